"""The frame driver over time: what only a silence ends, and when it came."""

from __future__ import annotations

from copy import deepcopy
from decimal import Decimal
from typing import Any

from acquire.driverapi.conformance import START, violations
from acquire.model import Fact, Instant, Noise, Reading
from drivers.frame import FAMILY
from tests.captures import profile

PRESS = bytes.fromhex("A5 5A 0A 52 00 01 00 03 92 03 BE 03 D6 1C 9B")
# The start of a frame of 40 bytes: 35 besides the 5 that its length does not count.
FALSE_START = bytes.fromhex("A5 5A 23")
# It is not asked for its name, so that nothing waits for that.
TALKATIVE = {key: table for key, table in profile("frame-gloss").items() if key != "identify"}
TALKATIVE["message"].append({"means": "nothing", "bytes": 40, "where": [{"offset": 3, "is": "4D"}]})


def at(seconds: float) -> Instant:
    ns = round(seconds * 1e9)
    return Instant(START.utc_ns + ns, START.mono_ns + ns)


def shown(facts: list[Fact]) -> list[tuple[str, bytes, int]]:
    return [(type(fact).__name__, fact.raw, fact.at.mono_ns) for fact in facts]


def test_a_swallowed_press_is_given_at_the_silence_and_bears_its_own_moment() -> None:
    driver = FAMILY.driver(TALKATIVE, "p")
    driver.opening(START)
    assert driver.feed(FALSE_START + PRESS[:7], at(5.0)) == []
    assert driver.feed(PRESS[7:], at(5.02)) == []
    due = driver.due(at(5.03))
    assert due.again is not None
    assert due.again == at(5.12)
    driver.due(due.again)
    facts = driver.feed(b"", due.again)
    assert shown(facts) == [
        ("Noise", FALSE_START, at(5.12).mono_ns),
        *[("Reading", PRESS, at(5.02).mono_ns)] * 3,
    ]


def test_the_same_press_comes_from_a_replay_that_asks_nothing() -> None:
    driver = FAMILY.driver(TALKATIVE, "p")
    driver.opening(START)
    assert driver.feed(FALSE_START + PRESS, at(5.0)) == []
    facts = driver.feed(PRESS, at(9.0))
    assert [fact.at for fact in facts if isinstance(fact, Reading)] == [at(5.0)] * 3 + [at(9.0)] * 3


def test_what_is_swallowed_when_the_link_is_lost_is_noise() -> None:
    driver = FAMILY.driver(TALKATIVE, "p")
    driver.opening(START)
    driver.feed(FALSE_START + PRESS, at(5.0))
    (noise,) = driver.lost(at(5.05))
    assert isinstance(noise, Noise)
    assert noise.raw == FALSE_START + PRESS
    assert "link was lost" in noise.reason


BARE: dict[str, Any] = {
    "kind": "force",
    "line": {"baud_rate": 9600},
    "frame": {"bytes": 4, "silence_s": Decimal("0.05")},
    "message": [
        {
            "means": "reading",
            "where": [{"offset": 0, "is": "4E"}],
            "value": [{"offset": 2, "type": "uint16", "order": "big", "scale": Decimal("0.01")}],
        }
    ],
    "unit": {"default": "newton"},
    "press": {"repeat_window_s": Decimal(1)},
}


def test_a_frame_without_marker_and_checksum_is_what_stands_between_two_silences() -> None:
    driver = FAMILY.driver(BARE, "bare")
    driver.opening(START)
    good = bytes.fromhex("4E 00 04 D2")
    assert driver.feed(good, at(1.0)) == []
    (reading,) = driver.feed(b"", at(1.05))
    assert isinstance(reading, Reading)
    assert (str(reading.value), reading.unit, reading.at) == ("12.34", "newton", at(1.0))
    for junk in (good[:3], good + b"\0", good + good, b"\0" + good):
        driver.feed(junk, at(2.0))
        assert {type(fact) for fact in driver.feed(b"", at(2.05))} == {Noise}


def test_a_bare_frame_twice_in_a_short_time_is_a_repeat() -> None:
    driver = FAMILY.driver(BARE, "bare")
    driver.opening(START)
    good = bytes.fromhex("4E 00 04 D2")
    flags = []
    for moment in (1.0, 1.5, 4.0):
        driver.feed(good, at(moment))
        (reading,) = driver.feed(b"", at(moment + 0.05))
        assert isinstance(reading, Reading)
        flags.append({flag.value for flag in reading.flags})
    assert flags == [set(), {"repeat"}, set()]


def test_the_driver_conforms_whatever_a_frame_lacks() -> None:
    assert violations(FAMILY, BARE, []) == []
    unproven = deepcopy(BARE)
    unproven["frame"]["start"] = "02"
    unproven["message"][0]["where"][0]["offset"] = 1
    assert violations(FAMILY, unproven, []) == []
    ended = deepcopy(unproven)
    ended["frame"] |= {"bytes": 5, "end": "03"}
    assert violations(FAMILY, ended, []) == []


def test_three_values_of_one_frame_wait_for_the_name_together() -> None:
    driver = FAMILY.driver(profile("frame-gloss"), "p")
    driver.opening(START)
    name = bytes.fromhex("A5 5A 09 49 47 46 2D 30 39 33 31 00 36 D3")
    assert len(driver.feed(name, at(0.01))) == 1
    assert driver.feed(PRESS, at(5.0)) == []
    assert driver.due(at(5.0)).send == bytes.fromhex("A5 5A 01 3F 40 30")
    assert shown(driver.feed(name, at(5.01))) == [("Reading", PRESS, at(5.0).mono_ns)] * 3
