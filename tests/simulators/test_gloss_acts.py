"""The control channel: every act, and every act that cannot be done, without a process."""

from __future__ import annotations

from typing import Any

import pytest

from tests.simulators.ports import NoPort, perform

TILE = {"act": "surface", "name": "tile", "gloss": {"20": 93.2}}
STAND = [TILE, {"act": "place", "surface": "tile"}]


def test_a_press_answers_with_its_count_what_was_shown_and_what_is_true() -> None:
    port = NoPort()
    *_, answer = perform(*STAND, {"act": "press"}, host=port, repeatability_sd=0)
    assert answer.pop("sent_mono_ns") > 0
    assert answer == {
        "ok": True,
        "count": 1,
        "shown": {"20": 93.2},
        "true": {"20": 93.2},
        "sent_bytes": 22,
    }
    assert port.taken == [b"R,0001,20,93.2,GU*55\r\n"]


def test_a_press_that_shows_nothing_says_why() -> None:
    answers = perform(
        {"act": "press"},
        *STAND,
        {"act": "lamp", "works": False},
        {"act": "press"},
        {"act": "power", "on": False},
        {"act": "press"},
    )
    pressed = [answer for answer in answers if "code" in answer]
    assert [(answer["count"], answer["code"]) for answer in pressed] == [
        (1, "LIFT"),
        (2, "LAMP"),
        (None, "OFF"),
    ]


def test_a_press_above_the_range_shows_null() -> None:
    bright = {"act": "surface", "name": "mirror", "gloss": {"20": 1500}}
    *_, answer = perform(bright, {"act": "place", "surface": "mirror"}, {"act": "press"})
    assert answer["shown"] == {"20": None}
    assert answer["true"] == {"20": 1500.0}


def test_a_still_press_stays_on_its_spot() -> None:
    rough = {"act": "surface", "name": "zone", "gloss": {"20": 80}, "texture_sd": 2}
    place = {"act": "place", "surface": "zone"}
    answers = perform(rough, place, *[{"act": "press", "still": s} for s in (False, True, False)])
    first, still, moved = (answer["true"]["20"] for answer in answers[2:])
    assert first == still != moved


def test_the_same_acts_give_the_same_bytes() -> None:
    acts = [
        {"act": "surface", "name": "zone", "gloss": {"20": 80}, "texture_sd": 1, "swirl": 3},
        {"act": "place", "surface": "zone", "turned_deg": 90},
        {"act": "drift", "gain": 1.001, "per_press": True},
        *[{"act": "press"}] * 30,
        {"act": "fault", "kind": "garbage"},
        {"act": "press"},
    ]
    first, second = NoPort(), NoPort()
    perform(*acts, host=first)
    perform(*acts, host=second)
    assert first.taken == second.taken
    assert len(set(first.taken)) == 31


def test_drift_adjust_and_power_work_as_acts() -> None:
    port = NoPort()
    answers = perform(
        *STAND,
        {"act": "drift", "gain": 1.02, "offset": 0.5},
        {"act": "press"},
        {"act": "adjust", "values": {"20": 93.2}},
        {"act": "press"},
        {"act": "memory", "on": True},
        {"act": "power", "on": False},
        {"act": "power", "on": True},
        {"act": "state"},
        host=port,
        repeatability_sd=0,
    )
    assert [answer["ok"] for answer in answers] == [True] * len(answers)
    assert b"".join(port.taken) == (
        b"R,0001,20,95.6,GU*57\r\nA,0001*6C\r\nR,0002,20,93.2,GU*56\r\n"
        b"B,SH-0417,1.4*5D\r\nR,0002,20,93.2,GU*56\r\n"
    )
    state = answers[-1]
    assert state["gain"]["20"] == pytest.approx(92.7 / 93.2)
    assert (state["count"], state["presses"], state["surface"]) == (0, 2, "tile")


def test_bytes_nobody_listens_to_are_lost_and_counted() -> None:
    port = NoPort(listening=False)
    *_, pressed, state = perform(*STAND, {"act": "press"}, {"act": "state"}, host=port)
    assert "sent_bytes" not in pressed
    assert state["lost_bytes"] == 22


def test_unplug_and_plug_leave_the_meter_as_it_is() -> None:
    port = NoPort()
    answers = perform(
        *STAND,
        *[{"act": act} for act in ("press", "unplug", "press", "state", "plug", "press")],
        host=port,
    )
    assert answers[5]["plugged"] is False
    assert [line[:6] for line in port.taken] == [b"R,0001", b"R,0003"]
    assert port.lost_bytes == 22


def test_a_swapped_meter_is_another_one_that_was_switched_on_before_it_is_plugged_in() -> None:
    port = NoPort()
    answers = perform(
        *STAND,
        {"act": "drift", "offset": 3},
        {"act": "press"},
        {"act": "swap", "serial": "SH-0999"},
        {"act": "state"},
        host=port,
    )
    assert answers[4]["serial"] == answers[5]["serial"] == "SH-0999"
    assert (answers[5]["count"], answers[5]["surface"]) == (0, None)
    assert answers[5]["offset"] == {"20": 0.0}
    assert len(port.taken) == 1


def test_a_meter_swapped_behind_its_adapter_is_switched_on_there() -> None:
    port = NoPort()
    perform({"act": "swap", "serial": "SH-0999", "hang_up": False}, host=port)
    assert port.taken == [b"B,SH-0999,1.4*56\r\n"]


def test_an_asked_meter_is_worked_by_the_same_acts() -> None:
    port = NoPort()
    port.heard = b"M\r?\rS\r"
    perform({"act": "state"}, host=port, layout="asked", serial="DK-2205")
    assert b"".join(port.taken) == b"NONE\rNONE\rS DK-2205\r"


def test_a_late_line_holds_up_what_comes_after_it_until_hush() -> None:
    port = NoPort()
    answers = perform(
        *STAND,
        {"act": "fault", "kind": "late", "delay_s": 60},
        {"act": "press"},
        {"act": "press"},
        {"act": "state"},
        {"act": "hush"},
        {"act": "press"},
        host=port,
    )
    assert answers[5]["waiting_pieces"] == 2
    assert [line[:6] for line in port.taken] == [b"R,0003"]


def test_switching_off_breaks_off_what_is_being_sent() -> None:
    *_, state = perform(
        *STAND,
        {"act": "fault", "kind": "endless"},
        {"act": "press"},
        {"act": "power", "on": False},
        {"act": "state"},
    )
    assert state["waiting_pieces"] == 0


def test_quit_ends_even_with_acts_left() -> None:
    assert perform({"act": "quit"}, {"act": "state"}) == [{"ok": True}]


def test_an_act_may_come_in_many_chunks_and_many_in_one() -> None:
    assert len(perform(b'{"act": "st', b'ate"}\n\n{"act": "state"}\n{"act":')) == 2


@pytest.mark.parametrize(
    "text",
    [b"press\n", b"[]\n", b'"press"\n', b"{}\n", b'{"act": 3}\n', b"\xff\n", b"[" * 99999 + b"\n"],
)
def test_a_line_that_is_no_act_is_answered_and_the_next_is_done(text: bytes) -> None:
    first, second = perform(text, {"act": "state"})
    assert first["error"].endswith('wanted a JSON object with an act, as {"act": "state"}')
    assert second["ok"]


def test_a_line_of_acts_without_end_ends_the_device() -> None:
    answers = perform(b'{"act": "state"}\n', b"x" * 1001, act_limit_bytes=1000)
    assert [answer.get("error") for answer in answers] == [
        None,
        "act: got more than 1000 bytes, wanted a line",
    ]


@pytest.mark.parametrize(
    ("act", "message"),
    [
        ({"act": "shake"}, 'act: got "shake", wanted one of surface, place, lift, press'),
        ({"act": "press", "hard": True}, "press hard: got true, wanted still"),
        ({"act": "lift", "up": 1}, "lift up: got 1, wanted no argument"),
        ({"act": "unplug", "now": 1}, "unplug now: got 1, wanted no argument"),
        ({"act": "place"}, "place surface: got nothing, wanted one of trap"),
        ({"act": "place", "surface": "tile 2"}, 'place surface: got "tile 2", wanted one of trap'),
        ({"act": "place", "surface": "trap", "turned_deg": 361}, "place turned_deg: got 361,"),
        ({"act": "surface", "name": "", "gloss": {"20": 1}}, 'surface name: got "", wanted a name'),
        (
            {"act": "surface", "name": "x"},
            "surface gloss: got nothing, wanted an object of numbers",
        ),
        ({"act": "surface", "name": "x", "gloss": {}}, "surface gloss: got {}, wanted an object"),
        (
            {"act": "surface", "name": "x", "gloss": {"45": 1}},
            'surface gloss: got {"45": 1}, wanted',
        ),
        ({"act": "surface", "name": "x", "gloss": {"20": "1"}}, 'surface gloss: got {"20": "1"},'),
        ({"act": "surface", "name": "x", "gloss": {"20": -1}}, 'surface gloss: got {"20": -1},'),
        ({"act": "drift"}, "drift gain: got nothing, wanted a gain, an offset or both"),
        ({"act": "drift", "gain": 0}, "drift gain: got 0, wanted a number from 0.2 to 5"),
        ({"act": "drift", "offset": 10**400}, "drift offset: got 1000"),
        ({"act": "adjust", "values": {"20": 93.2}}, 'adjust: got "the meter stands on nothing"'),
        ({"act": "adjust", "values": {"60": 93.2}}, 'adjust values: got {"60": 93.2}, wanted'),
        ({"act": "power"}, "power on: got nothing, wanted true or false"),
        ({"act": "power", "on": "yes"}, 'power on: got "yes", wanted true or false'),
        ({"act": "swap", "serial": "a,b"}, 'swap serial: got "a,b", wanted 1 to 32 letters'),
        ({"act": "fault", "kind": "bent"}, 'fault kind: got "bent", wanted one of clean'),
    ],
)
def test_an_act_that_cannot_be_done_says_what_was_got_and_wanted(
    act: dict[str, Any], message: str
) -> None:
    refused, after = perform(act, {"act": "state"})
    assert refused["error"].startswith(message)
    assert after["presses"] == 0


def test_numbers_that_are_none_are_refused() -> None:
    for constant in (b"NaN", b"Infinity"):
        (answer,) = perform(b'{"act": "drift", "gain": %s}\n' % constant)
        assert "wanted a JSON object" in answer["error"]
    (answer,) = perform(b'{"act": "drift", "gain": 1e999}\n')
    assert answer["error"].startswith("drift gain: got Infinity, wanted a number")


def test_an_asked_meter_has_no_memory_to_switch() -> None:
    (answer,) = perform({"act": "memory", "on": True}, layout="asked")
    assert answer["error"] == 'memory: got "asked", wanted a meter of layout press'


def test_a_surface_without_an_angle_of_the_meter_is_refused_where_it_is_placed() -> None:
    *_, answer = perform(*STAND, angles=(20, 60))
    assert answer["error"].startswith('place surface: got "tile has no gloss at 60 degrees"')


def test_an_empty_battery_switches_the_meter_off_until_it_is_switched_on_again() -> None:
    answers = perform(
        *STAND,
        {"act": "battery", "presses": 2},
        *[{"act": "press"}] * 3,
        {"act": "power", "on": True},
        {"act": "press"},
    )
    presses = [answer for answer in answers if "count" in answer]
    assert [answer["count"] for answer in presses] == [1, 2, None, 1]
    assert [answer.get("battery") for answer in presses] == [None, "empty", None, None]
    assert presses[2]["code"] == "OFF"


def test_waiting_warms_the_lamp_of_a_meter_that_was_cold() -> None:
    *_, answer = perform(
        {"act": "power", "on": False},
        {"act": "power", "on": True},
        {"act": "wait", "seconds": 0},
        {"act": "wait", "seconds": 3600},
        cold_share=0.1,
    )
    assert answer["brightness"] == pytest.approx(1.0, abs=1e-6)
