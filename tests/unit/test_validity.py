"""What a pass covers and what ends it beyond time: presses, idleness, climate, range, warm-up."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack, nullcontext
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from acquire.errors import Refused, SettingsError
from acquire.model import AmbientRule, Bench, NoticeKind
from acquire.settings import config_dir, load_policy, parse_plan
from tests.yard import TRIAL, Yard

Make = Callable[..., Yard]
D = Decimal


def bench_with(bench: Bench, **changes: Any) -> Bench:
    return replace(
        bench,
        instruments=tuple(
            replace(one, policy=replace(one.policy, **changes)) for one in bench.instruments
        ),
    )


class Strict(Yard):
    """A yard whose policies ask for more."""

    def __init__(self, folder: Path, **changes: Any) -> None:
        self.changes = changes
        super().__init__(folder)

    def open(self) -> None:
        self.bench = bench_with(self.bench, **self.changes)
        super().open()


@pytest.fixture
def make(tmp_path: Path) -> Iterator[Make]:
    with ExitStack() as stack:

        def made(**changes: Any) -> Yard:
            yard = Strict(tmp_path, **changes)
            stack.callback(yard.close)
            yard.plug("shore")
            return yard

        yield made


def last(yard: Yard) -> tuple[str, str]:
    row = yard.readings()[-1]
    return row["role"], row["loose_reason"] or ""


def ended(yard: Yard) -> list[str]:
    return [row["reason"] for row in yard.writer.query("SELECT reason FROM pass_end ORDER BY id")]


def climate(yard: Yard, temperature: str, humidity: str | None = None) -> dict[str, Any]:
    reply: dict[str, Any] = yard.act(
        lambda at: yard.acts.climate.enter(D(temperature), humidity and D(humidity), at)
    )
    return reply


# -- presses and idleness -------------------------------------------------------------------------


def test_a_pass_lasts_as_many_presses_as_its_policy_says_and_ends_behind_the_last(
    make: Make,
) -> None:
    yard = make(valid_for_presses=2)
    yard.check("shore")
    yard.begin()
    for value in ("80.1", "80.2", "80.3"):
        yard.press("shore", value)
    roles = [row["role"] for row in yard.readings()][-3:]
    assert roles == ["run", "run", "loose"]
    assert "the check lasts 2 presses, and 2 were taken" in last(yard)[1]
    assert ended(yard) == ["used up"]
    (end,) = yard.writer.query("SELECT after_reading FROM pass_end")
    assert end["after_reading"] == yard.readings()[-1]["reading_id"] - 1
    yard.check("shore")
    yard.press("shore", "80.4")
    assert last(yard)[0] == "run"


def test_a_used_up_pass_begins_no_run_and_takes_no_reading_by_hand(make: Make) -> None:
    yard = make(valid_for_presses=1)
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.press("shore", "80.2")
    loose = yard.readings()[-1]["reading_id"]
    with pytest.raises(Refused, match="may not count") as refused:
        yard.act(
            lambda at: yard.acts.readings.assign(
                loose, "gelcoat", None, "A1", "bare", 2, "pressed too early", at
            )
        )
    assert refused.value.reason == "used up"
    yard.act(lambda at: yard.acts.runs.finish("", at))
    with pytest.raises(Refused) as refused:
        yard.begin()
    assert refused.value.reason == "used up"


def assign(yard: Yard, reading_id: object, replicate: int) -> None:
    number = int(str(reading_id))
    yard.act(
        lambda at: yard.acts.readings.assign(
            number, "gelcoat", None, "A1", "bare", replicate, "pressed too early", at
        )
    )


def test_presses_that_a_person_assigns_count_among_those_of_the_pass(make: Make) -> None:
    yard = make(valid_for_presses=2)
    yard.check("shore")
    for value in ("80.1", "80.2", "80.3"):
        yard.clock.advance(1)
        yard.press("shore", value)
    first, second, third = (row["reading_id"] for row in yard.readings("role = 'loose'"))
    yard.begin()
    assign(yard, first, 1)
    yard.clock.advance(1)
    yard.press("shore", "80.4")
    assert last(yard)[0] == "run"
    for loose in (second, third):
        with pytest.raises(Refused) as refused:
            assign(yard, loose, 2)
        assert refused.value.reason == "used up"
    yard.press("shore", "80.5")
    assert "the check lasts 2 presses, and 2 were taken" in last(yard)[1]


def test_a_press_assigned_under_an_earlier_pass_takes_none_off_the_present_one(make: Make) -> None:
    yard = make(valid_for_presses=2)
    yard.check("shore")
    yard.press("shore", "80.0")
    early = yard.readings("role = 'loose'")[0]["reading_id"]
    yard.check("shore")
    yard.begin()
    for value in ("80.1", "80.2"):
        yard.clock.advance(1)
        yard.press("shore", value)
    assign(yard, early, 2)
    yard.press("shore", "80.3")
    assert "the check lasts 2 presses, and 2 were taken" in last(yard)[1]


def test_presses_of_a_meter_that_sends_one_count_for_all_are_told_apart_by_their_time(
    make: Make,
) -> None:
    yard = make(valid_for_presses=2)
    yard.check("shore")
    yard.press("shore", "80.0", count=7)
    loose = yard.readings()[-1]["reading_id"]
    yard.begin()
    for value in ("80.1", "80.2"):
        yard.clock.advance(11)
        yard.press("shore", value, count=7)
        assert last(yard)[0] == "run"
    with pytest.raises(Refused) as refused:
        assign(yard, loose, 2)
    assert refused.value.reason == "used up"


def test_presses_left_are_told(make: Make) -> None:
    yard = make(valid_for_presses=3)
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    status: Any = yard.act(yard.acts.status)
    assert status["instruments"][0]["check"]["presses_left"] == 2


def test_a_pass_that_nobody_uses_ends(make: Make) -> None:
    yard = make(idle_s=600.0)
    yard.check("shore")
    yard.begin()
    yard.clock.advance(500)
    yard.press("shore", "80.1")
    yard.clock.advance(599)
    yard.tick()
    assert ended(yard) == []
    yard.clock.advance(2)
    yard.tick()
    assert ended(yard) == ["idle"]
    (end,) = yard.writer.query("SELECT at_utc_ns FROM pass_end")
    assert end["at_utc_ns"] == yard.readings()[-1]["at_utc_ns"] + 600 * 10**9  # type: ignore[operator]
    yard.press("shore", "80.2")
    assert last(yard)[0] == "loose"


def test_a_press_after_the_last_moment_counts_for_nothing_though_no_clock_has_ticked(
    make: Make,
) -> None:
    yard = make(idle_s=600.0)
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.clock.advance(600)
    yard.press("shore", "80.2")
    assert last(yard)[0] == "loose"
    assert ended(yard) == ["idle"]
    (end,) = yard.writer.query("SELECT at_utc_ns, after_reading FROM pass_end")
    presses = yard.readings()
    assert end["at_utc_ns"] == presses[-2]["at_utc_ns"] + 600 * 10**9
    assert end["after_reading"] == presses[-2]["reading_id"]


def test_a_sitting_that_is_closed_takes_the_pass_with_it_where_the_policy_says_so(
    make: Make,
) -> None:
    yard = make(ends_with_sitting=True)
    yard.check("shore")
    yard.act(yard.acts.close_sitting)
    assert ended(yard) == ["sitting closed"]


def test_a_sitting_is_not_closed_over_a_check_that_is_under_way(make: Make) -> None:
    yard = make(ends_with_sitting=True)
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    for value in ("93.2", "93.2", "0.0"):
        yard.press("shore", value)
    with pytest.raises(Refused) as refused:
        yard.act(yard.acts.close_sitting)
    assert refused.value.reason == "check under way"
    yard.press("shore", "0.0")
    yard.act(yard.acts.close_sitting)
    assert ended(yard) == ["sitting closed"]


# -- range ----------------------------------------------------------------------------------------


def test_a_value_outside_of_the_checked_range_counts_for_nothing(make: Make) -> None:
    yard = make(span=(D(0), D(100)))
    yard.check("shore")
    yard.begin()
    yard.press("shore", "100.1")
    assert last(yard)[0] == "loose"
    assert "outside of the range 0 to 100" in last(yard)[1]
    assert ended(yard) == []
    yard.press("shore", "100.0")
    assert last(yard)[0] == "run"


@pytest.mark.parametrize(("expected", "is_refused"), [("[0, 100]", False), ("[0, 100.1]", True)])
def test_a_run_whose_plan_expects_more_than_the_check_covers_is_refused(
    make: Make, expected: str, is_refused: bool
) -> None:
    yard = make(span=(D(0), D(100)))
    yard.check("shore")
    text = TRIAL.replace("replicates = 2", f"replicates = 2\nrange = {expected}")
    plan = parse_plan(text, "trial.toml")
    begin = lambda: yard.act(  # noqa: E731
        lambda at: yard.acts.runs.begin(plan, "gloss20", "bare", "shore", at)
    )
    if not is_refused:
        begin()
        return
    with pytest.raises(Refused) as refused:
        begin()
    assert refused.value.reason == "range"
    assert refused.value.wanted == "0 to 100.1 gloss_unit, as measure gloss20 expects"


def test_a_value_outside_of_the_checked_range_gets_no_place_by_hand(make: Make) -> None:
    yard = make(span=(D(0), D(100)))
    yard.check("shore")
    yard.press("shore", "120.0")
    number = yard.readings()[-1]["reading_id"]
    yard.begin()
    with pytest.raises(Refused) as refused:
        yard.act(
            lambda at: yard.acts.readings.assign(
                number, "gelcoat", None, "A1", "bare", 1, "pressed too early", at
            )
        )
    assert refused.value.reason == "range"


def test_the_store_itself_refuses_a_value_outside_of_the_range(make: Make) -> None:
    yard = make(span=(D(0), D(100)))
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.0")
    row = dict(yard.writer.query("SELECT * FROM reading ORDER BY id DESC LIMIT 1")[0])
    row |= {"id": row["id"] + 1, "value": "120.0", "value_real": 120.0, "replicate": 2}
    names = ", ".join(row)
    with pytest.raises(Exception, match="may not count without a valid pass"):
        yard.writer.db.execute(
            f"INSERT INTO reading ({names}) VALUES ({', '.join('?' * len(row))})",
            list(row.values()),
        )


# -- warm-up --------------------------------------------------------------------------------------


def test_an_instrument_that_warms_up_is_not_checked_yet_and_the_time_is_told(make: Make) -> None:
    yard = make(warm_up_s=600.0)
    yard.clock.advance(180)
    with pytest.raises(Refused) as refused:
        yard.act(lambda at: yard.acts.checks.begin("shore", at))
    assert refused.value.reason == "warming up"
    assert refused.value.got == "on for 0:03:00 (h:mm:ss)"
    assert "wait 0:07:00 more" in refused.value.next_step
    yard.clock.advance(419)
    with pytest.raises(Refused, match="is warming up"):
        yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.clock.advance(1)
    yard.check("shore")
    yard.tell("shore", NoticeKind.POWER_UP, "SH-0417")
    with pytest.raises(Refused) as refused:
        yard.act(lambda at: yard.acts.checks.begin("shore", at))
    assert refused.value.reason == "warming up"


# -- climate --------------------------------------------------------------------------------------

ROOM = AmbientRule(3600.0, (D(18), D(28)), D(3), (D(20), D(70)))


def test_a_check_wants_to_know_the_room_and_a_room_as_the_policy_has_it(make: Make) -> None:
    yard = make(ambient=ROOM)
    begin = lambda: yard.act(lambda at: yard.acts.checks.begin("shore", at))  # noqa: E731
    for entry, reason in (
        (None, "climate not known"),
        (("21.0", None), "climate not known"),
        (("16.9", "50"), "temperature"),
        (("21.0", "81"), "humidity"),
    ):
        if entry is not None:
            climate(yard, *entry)
        with pytest.raises(Refused) as refused:
            begin()
        assert refused.value.reason == reason
        assert "coatbench climate" in refused.value.next_step
    climate(yard, "21.0", "50")
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    assert last(yard)[0] == "run"


@pytest.mark.parametrize(
    ("entry", "reason"),
    [
        (("24.1", "50"), "temperature"),
        (("17.9", "50"), "temperature"),
        (("21.0", "71"), "humidity"),
    ],
)
def test_a_room_that_changes_ends_the_pass_at_once(
    make: Make, entry: tuple[str, str], reason: str
) -> None:
    yard = make(ambient=ROOM)
    climate(yard, "21.0", "50")
    yard.check("shore")
    yard.begin()
    yard.clock.advance(10)
    reply = climate(yard, *entry)
    assert len(reply["ended"]) == 1
    assert ended(yard) == [reason]
    yard.press("shore", "80.1")
    assert last(yard)[0] == "loose"


def test_a_room_that_changed_little_ends_nothing(make: Make) -> None:
    yard = make(ambient=ROOM)
    climate(yard, "21.0", "50")
    yard.check("shore")
    yard.clock.advance(10)
    assert climate(yard, "24.0", "50")["ended"] == []
    assert ended(yard) == []


def test_a_room_of_which_nobody_has_told_for_long_ends_the_pass(make: Make) -> None:
    yard = make(ambient=ROOM)
    climate(yard, "21.0", "50")
    yard.check("shore")
    yard.clock.advance(3500)
    yard.tick()
    assert ended(yard) == []
    yard.clock.advance(99)
    climate(yard, "21.0", "50")
    yard.clock.advance(300)
    yard.tick()
    # The check itself lasts an hour, whatever the room.
    assert ended(yard) == ["expired"]


def test_the_room_is_known_over_a_restart_with_its_age(make: Make) -> None:
    yard = make(ambient=ROOM)
    climate(yard, "21.0", "50")
    yard.clock.advance(3000)
    yard.restart()
    yard.plug("shore")
    yard.check("shore")
    yard.clock.advance(700)
    yard.tick()
    assert ended(yard) == ["climate not known"]


def test_a_clock_that_was_set_back_makes_no_old_entry_of_the_room_new(make: Make) -> None:
    yard = make(ambient=ROOM)
    climate(yard, "21.0", "50")
    yard.clock.advance(3500)
    yard.clock.jump(-7200)
    yard.restart()
    yard.plug("shore")
    yard.trust_clock()
    with pytest.raises(Refused) as refused:
        yard.act(lambda at: yard.acts.checks.begin("shore", at))
    assert refused.value.reason == "climate not known"


def test_a_press_after_the_room_is_known_no_more_counts_for_nothing_though_no_clock_has_ticked(
    make: Make,
) -> None:
    yard = make(ambient=replace(ROOM, known_for_s=900.0))
    climate(yard, "21.0", "50")
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.clock.advance(901)
    yard.press("shore", "80.2")
    assert last(yard)[0] == "loose"
    assert ended(yard) == ["climate not known"]
    (entered,) = yard.writer.query("SELECT at_utc_ns FROM climate")
    (end,) = yard.writer.query("SELECT at_utc_ns FROM pass_end")
    assert end["at_utc_ns"] == entered["at_utc_ns"] + 900 * 10**9


@pytest.mark.parametrize(
    "entry",
    [("50.1", None), ("70.5", None), ("-10.1", None), ("-40", None), ("21", "101"), ("21", "-1")],
)
def test_an_impossible_climate_is_refused(make: Make, entry: tuple[str, str | None]) -> None:
    yard = make()
    with pytest.raises(Refused, match="is not entered") as refused:
        climate(yard, *entry)
    # 70.5 is what a thermometer in degrees Fahrenheit shows in a warm room.
    assert "coatbench climate 70.5F" in refused.value.next_step


@pytest.mark.parametrize("celsius", ["-10", "50"])
def test_an_entry_is_held_to_what_a_policy_may_ask_for(
    make: Make, celsius: str, tmp_path: Path
) -> None:
    yard = make()
    assert climate(yard, celsius)["climate_id"] == 1
    text = (config_dir() / "policies" / "gloss-20.toml").read_text("utf-8")
    path = tmp_path / "room.toml"
    for span, is_sound in (("[-10, 50]", True), ("[-10.1, 50]", False), ("[-10, 50.1]", False)):
        path.write_text(f"{text}\n[ambient]\ntemperature_c = {span}\n", encoding="utf-8")
        with nullcontext() if is_sound else pytest.raises(SettingsError):
            load_policy(path)


# -- told by a person -----------------------------------------------------------------------------


def test_a_person_tells_of_a_re_adjustment_that_the_meter_does_not_tell(make: Make) -> None:
    yard = make()
    yard.check("shore", tile="95.6")
    yard.act(lambda at: yard.acts.checks.readjusted("shore", at))
    with pytest.raises(Refused) as refused:
        yard.begin()
    assert refused.value.reason == "re-adjusted"
    yard.check("shore")
    yard.act(lambda at: yard.acts.checks.readjusted("shore", at))
    assert ended(yard) == ["re-adjusted"]
