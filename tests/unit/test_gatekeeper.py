"""The gatekeeper by itself: what it asks the gate again, and what the passing of time ends."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from acquire.model import Gap, NoticeKind
from acquire.pipeline.gatekeeper import Gatekeeper
from acquire.pipeline.ids import Ids
from tests.yard import Yard, bench

ONE = frozenset({"20"})


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Yard]:
    """A yard whose checks last ten seconds."""
    made = Yard(tmp_path, valid_for_s=10)
    made.plug("shore")
    made.tick()
    made.check("shore")
    yield made
    made.close()


def asked(yard: Yard, channels: frozenset[str] = ONE, instrument: str = "shore") -> str:
    """Why the gate is shut now; empty where it is open."""
    keeper, standing = yard.desk.keeper, yard.desk.standings[instrument]
    verdict = keeper.ask_gate(standing, channels, yard.clock.now())
    return "" if verdict.is_open else verdict.reason


def ended(yard: Yard) -> list[tuple[str, int]]:
    rows = yard.writer.query("SELECT reason, at_utc_ns FROM pass_end ORDER BY id")
    return [(row["reason"], row["at_utc_ns"]) for row in rows]


def test_no_answer_of_the_gate_is_kept_for_another_question(yard: Yard) -> None:
    assert asked(yard) == ""
    assert asked(yard, frozenset({"60"})) == "channel"
    assert asked(yard, instrument="deck") == "no check"
    assert asked(yard) == ""
    yard.clock.advance(20)
    assert asked(yard) == "expired"


def test_the_same_question_gets_another_answer_once_something_has_ended_the_pass(
    yard: Yard,
) -> None:
    assert asked(yard) == ""
    yard.unplug("shore")
    assert asked(yard) == "unplugged"


def test_a_pass_covers_up_to_the_last_reading_before_its_end(yard: Yard) -> None:
    yard.press("shore", "80.1")
    number = yard.readings()[-1]["reading_id"]
    yard.unplug("shore")
    (end,) = yard.writer.query("SELECT after_reading FROM pass_end")
    assert end["after_reading"] == number


@pytest.mark.parametrize("creep_s", [-0.9, 1.9])
def test_time_ends_a_pass_by_whichever_clock_comes_first(yard: Yard, creep_s: float) -> None:
    expires = yard.writer.query("SELECT expires_utc_ns FROM check_judgement")[0][0]
    mono_ns = yard.clock.now().mono_ns
    # Steps of the wall clock that are too small to be noticed as such.
    for _ in range(8 if creep_s < 0 else 6):
        yard.clock.advance(1)
        yard.clock.jump(creep_s)
        yard.tick()
    if creep_s < 0:
        assert ended(yard) == []
        yard.clock.advance(1)
        yard.tick()
        assert yard.clock.now().utc_ns < expires
    else:
        assert yard.clock.now().mono_ns - mono_ns < 9 * 10**9
    assert ended(yard) == [("expired", expires)]


def test_a_step_of_the_clock_is_noticed_as_the_strictest_policy_of_the_bench_wants_it(
    yard: Yard,
) -> None:
    plain = bench(yard.bench.store)
    first, second = plain.instruments
    strict = replace(second, policy=replace(second.policy, clock_jump_s=0.5))
    made = Gatekeeper(replace(plain, instruments=(first, strict)), {}, yard.shelf.passes, Ids({}))
    assert made.clock_jump_ns == 500_000_000


def taken(yard: Yard) -> int:
    """How many places of the run under way are filled."""
    assert yard.desk.run is not None
    course = yard.desk.run.course
    return course.slots_total - len(course.open_targets("20"))


def test_a_re_adjustment_without_a_check_as_found_opens_places_of_the_run_under_way(
    yard: Yard,
) -> None:
    yard.begin()
    yard.press("shore", "80.1")
    assert taken(yard) == 1
    yard.tell("shore", NoticeKind.ADJUSTED)
    assert taken(yard) == 0


def test_a_check_broken_off_that_found_the_meter_outside_opens_places_of_the_run_under_way(
    yard: Yard,
) -> None:
    yard.begin()
    yard.press("shore", "80.1")
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.press("shore", "95.6")
    yard.press("shore", "95.6")
    assert taken(yard) == 1
    yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    assert taken(yard) == 0


def test_bytes_that_went_unrecorded_break_a_check_off(yard: Yard) -> None:
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    now = yard.clock.now()
    yard.press("shore", "93.2", gap=Gap("shore", now, now, 40))
    assert yard.desk.standings["shore"].checking is None
    (found,) = yard.writer.query("SELECT outcome, message FROM checks WHERE check_id = 2")
    assert found["outcome"] == "undecided"
    assert "40 bytes of shore went unrecorded" in found["message"]


def test_a_press_of_another_meter_is_no_reading_of_the_run(yard: Yard) -> None:
    yard.plug("deck")
    yard.check("deck")
    yard.begin()
    yard.press("deck", "80.1")
    assert (taken(yard), yard.readings()[-1]["role"]) == (0, "loose")


def test_a_check_broken_off_tells_of_presses_that_nobody_explained(yard: Yard) -> None:
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.press("shore", "0.1")
    yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    told = yard.writer.query("SELECT message FROM check_judgement ORDER BY id DESC LIMIT 1")[0][0]
    assert "1 press asked for on T1 read 0.1 GU, as another piece does" in told


@pytest.mark.parametrize("kind", [NoticeKind.POWER_UP, NoticeKind.IDENTITY])
def test_another_serial_number_breaks_a_check_off_and_is_told(yard: Yard, kind: NoticeKind) -> None:
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.press("shore", "93.2")
    yard.tell("shore", kind, "XX-1")
    standing = yard.desk.standings["shore"]
    assert standing.checking is None
    assert standing.serial == "XX-1"
    assert [row[0] for row in yard.writer.query("SELECT kind FROM incident")] == [
        "other serial number"
    ]
    (found,) = yard.writer.query("SELECT outcome FROM checks WHERE check_id = 2")
    assert found["outcome"] == "undecided"


def test_a_pass_whose_last_moment_is_that_of_a_start_has_expired(yard: Yard) -> None:
    yard.clock.advance(9)
    expires = yard.writer.query("SELECT expires_utc_ns FROM check_judgement")[0][0]
    assert yard.clock.now().utc_ns == expires
    yard.restart()
    assert ended(yard) == [("expired", expires)]
