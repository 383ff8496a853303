"""One press has one place: whatever its angles still want, all its readings go there or nowhere."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import count
from pathlib import Path

import pytest

from acquire.clock import ManualClock
from acquire.errors import Refused
from acquire.model import NoticeKind
from acquire.pipeline.place import Place
from acquire.pipeline.press import LatestPress
from tests.two_angles import TWO_ANGLES, AlikeYard, TwoAngleYard

UNCHECKED = TWO_ANGLES.replace("[panel]", "unchecked = true\n[panel]")


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[TwoAngleYard]:
    yard = TwoAngleYard(tmp_path)
    yard.plug("shore")
    yield yard
    yard.close()


def placed(yard: TwoAngleYard) -> list[tuple[object, ...]]:
    """Angle, value and place of the readings of runs, the loose ones with None."""
    return [
        (q["channel"], q["value"], q["zone"] and f"{q['zone']} {q['replicate']}")
        for q in yard.readings("role <> 'check'")
    ]


@pytest.mark.parametrize("first", ["----", None], ids=["over-range", "garbled"])
def test_a_press_that_completes_a_place_leaves_nothing_at_the_next(
    yard: TwoAngleYard, first: str | None
) -> None:
    yard.check("shore")
    yard.begin()
    yard.press_both(first, "60.1")
    yard.press_both("20.1", "60.2")
    yard.press_both("20.3", "60.3")
    assert [p for p in placed(yard) if p[1] is not None] == [
        ("60", "60.1", "A1 1"),
        ("20", "20.1", "A1 1"),
        ("60", "60.2", None),
        ("20", "20.3", "A2 1"),
        ("60", "60.3", "A2 1"),
    ]
    (loose,) = yard.readings("value = '60.2'")
    assert loose["loose_reason"] == "zone A1, bare, replicate 1 has its 60° reading already"


def test_a_press_of_several_angles_is_one_of_the_presses_that_a_pass_lasts(
    yard: TwoAngleYard,
) -> None:
    standing = yard.desk.standings["shore"]
    few = replace(standing.spec.policy, valid_for_presses=2)
    standing.spec = replace(standing.spec, policy=few)
    yard.check("shore")
    yard.begin()
    for value in ("80.1", "80.2", "80.3"):
        yard.press_both(value, value)
    assert [place for _, _, place in placed(yard)] == [
        "A1 1", "A1 1", "A2 1", "A2 1", None, None,
    ]  # fmt: skip


def test_what_a_press_still_sends_goes_into_no_other_run_or_check(yard: TwoAngleYard) -> None:
    yard.check("shore")
    yard.begin()
    yard.press_both("20.1", None)
    yard.act(lambda at: yard.acts.runs.finish("", at))
    yard.begin(stage="cured")
    yard.press("shore", "60.1", channel="60", count=yard.count)
    assert placed(yard) == [("20", "20.1", "A1 1"), ("60", "60.1", None)]
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.press_both("93.2", None)
    yard.act(lambda at: yard.acts.checks.abandon("shore", at))
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.press("shore", "93.2", channel="60", count=yard.count)
    assert yard.readings()[-1]["role"] == "loose"


def test_an_angle_that_has_its_readings_of_a_piece_takes_no_more(yard: TwoAngleYard) -> None:
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    for _ in range(3):
        yard.press_both("93.2", None)
    assert [row["role"] for row in yard.readings()] == ["check", "check", "loose"]


def test_a_press_stays_at_its_place_when_the_hand_moves_on_between_its_lines(
    yard: TwoAngleYard,
) -> None:
    yard.check("shore")
    yard.begin()
    yard.press_both("20.1", None)
    yard.act(yard.acts.runs.skip)
    yard.press("shore", "60.1", channel="60", count=yard.count)
    yard.press_both("20.2", "60.2")
    assert placed(yard) == [
        ("20", "20.1", "A1 1"),
        ("60", "60.1", "A1 1"),
        ("20", "20.2", "A2 1"),
        ("60", "60.2", "A2 1"),
    ]


def test_what_a_slipped_press_still_sends_counts_no_more_than_what_it_sent(
    yard: TwoAngleYard,
) -> None:
    yard.check("shore")
    yard.begin()
    yard.press_both("20.1", None)
    slipped = yard.readings()[-1]["reading_id"]
    yard.act(lambda at: yard.acts.readings.void(slipped, "meter slipped", at))  # type: ignore[arg-type]
    yard.press("shore", "60.1", channel="60", count=yard.count)
    assert placed(yard)[-1] == ("60", "60.1", None)
    assert yard.readings()[-1]["loose_reason"] == f"its press is void (reading {slipped})"


def test_the_void_of_an_earlier_reading_of_a_piece_ends_the_press_that_is_half_in(
    yard: TwoAngleYard,
) -> None:
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.press_both("93.2", "93.2")
    first = yard.readings()[0]["reading_id"]
    yard.press_both("93.9", None)
    yard.act(lambda at: yard.acts.readings.void(first, "meter slipped", at))  # type: ignore[arg-type]
    yard.press("shore", "93.9", channel="60", count=yard.count)
    last = yard.readings()[-1]
    assert (last["role"], last["loose_reason"]) == ("loose", "its press is void (reading 3)")


@pytest.mark.parametrize("is_told", [True, False], ids=["told", "untold"])
def test_a_count_that_begins_anew_joins_no_reading_to_the_press_before(
    yard: TwoAngleYard, is_told: bool
) -> None:
    yard.begin(text=UNCHECKED)
    yard.press_both("20.1", None)
    yard.act(yard.acts.runs.skip)
    yard.clock.advance(5 if is_told else 600)
    if is_told:
        yard.tell("shore", NoticeKind.POWER_UP)
    yard.press("shore", "60.2", channel="60", count=yard.count)
    assert placed(yard) == [("20", "20.1", "A1 1"), ("60", "60.2", "A2 1")]


def test_a_void_takes_no_reading_of_a_much_later_press_of_the_same_count(
    yard: TwoAngleYard,
) -> None:
    yard.begin(text=UNCHECKED)
    yard.press_both("20.1", None)
    yard.clock.advance(600)
    yard.press("shore", "60.2", channel="60", count=yard.count)
    assert placed(yard) == [("20", "20.1", "A1 1"), ("60", "60.2", "A1 1")]
    last = yard.readings()[-1]["reading_id"]
    answer = yard.act(lambda at: yard.acts.readings.void(last, "meter slipped", at))  # type: ignore[arg-type]
    assert answer["readings"] == [last]


def test_a_press_that_completes_a_piece_leaves_nothing_at_the_next_piece(
    yard: TwoAngleYard,
) -> None:
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.press_both(None, "93.2")
    yard.press_both("93.2", "93.2")
    yard.press_both("93.2", "93.3")
    last = yard.readings()[-1]
    assert (last["role"], last["piece"]) == ("loose", None)
    assert last["loose_reason"] == "its press was of T1, which has its readings already"


def test_the_press_that_ends_a_check_leaves_nothing_in_the_run(yard: TwoAngleYard) -> None:
    yard.check("shore")
    yard.begin()
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    for value in ("93.2", "93.2", "0.0"):
        yard.press_both(value, value)
    yard.press_both(None, "0.0")
    yard.press_both("0.0", "0.1")
    assert placed(yard) == [("60", "0.1", None)]
    yard.press_both("20.1", "60.1")
    assert placed(yard)[1:] == [("20", "20.1", "A1 1"), ("60", "60.1", "A1 1")]


def test_a_check_that_begins_between_two_lines_takes_only_what_comes_of_a_new_press(
    yard: TwoAngleYard,
) -> None:
    yard.check("shore")
    yard.begin()
    yard.press_both("20.1", None)
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yard.press("shore", "60.1", channel="60", count=yard.count)
    assert placed(yard)[-1] == ("60", "60.1", None)
    with pytest.raises(Refused, match="may not count"):
        yard.act(
            lambda at: yard.acts.readings.assign(
                yard.readings()[-1]["reading_id"],  # type: ignore[arg-type]
                "gelcoat", None, "A1", "bare", 1, "same press", at,
            )
        )  # fmt: skip


@pytest.fixture
def alike(tmp_path: Path) -> Iterator[AlikeYard]:
    """Pieces that read alike at 60 degrees, so that 20 degrees alone tells them apart."""
    yard = AlikeYard(tmp_path)
    yard.plug("shore")
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    yield yard
    yard.close()


def test_a_press_that_one_angle_tells_to_be_of_another_piece_counts_at_no_angle(
    alike: AlikeYard,
) -> None:
    alike.press_both("0.0", "93.4")
    first, second = alike.readings()
    assert [first["role"], second["role"]] == ["loose", "loose"]
    assert second["loose_reason"] == (
        "reading 1 of its press tells that shore was not on T1. Next: put shore on T1"
    )
    for twenty in ("93.2", "93.2", "0.0", "0.0"):
        alike.press_both(twenty, "93.2")
    assert all(q["role"] == "check" for q in alike.readings("reading_id > 2"))
    assert [c["outcome"] for c in alike.writer.query("SELECT outcome FROM checks")] == ["pass"]


def test_what_has_counted_of_a_press_is_taken_back_when_its_next_angle_tells_another_piece(
    alike: AlikeYard,
) -> None:
    alike.press_both("93.2", "93.2")
    alike.press_both("93.2", None)
    alike.press("shore", "93.4", channel="60", count=9)
    alike.press("shore", "0.0", channel="20", count=9)
    fourth, fifth = alike.readings("press = 9")
    told = "reading 5 of its press tells that shore was not on T1"
    assert (fourth["role"], fourth["void_reason"]) == ("check", told)
    assert (fifth["role"], fifth["loose_reason"][:24]) == ("loose", "T1 reads about 93.2 GU; ")
    alike.press_both(None, "93.2")
    for _ in range(2):
        alike.press_both("0.0", "93.4")
    (tile,) = alike.writer.query(
        "SELECT readings, mean FROM piece_judgement WHERE piece = 'T1' AND channel = '60'"
    )
    assert (tile["readings"], float(tile["mean"])) == (2, 93.2)
    assert [c["outcome"] for c in alike.writer.query("SELECT outcome FROM checks")] == ["pass"]


def test_a_new_count_or_link_or_moment_or_the_same_angle_again_is_a_new_press() -> None:
    clock, press, numbers = ManualClock(), LatestPress(), count(1)

    def is_new(connection: int, counted: int | None, channel: str) -> bool:
        shared = press.take(connection, counted, clock.now(), channel, next(numbers))
        press.place = Place("run", 1, "A1", "bare", 1)
        return shared is None

    assert is_new(1, 7, "20")
    assert not is_new(1, 7, "60")
    clock.advance(10)
    assert not is_new(1, 7, "85")
    assert is_new(1, 8, "60")
    clock.advance(11)
    assert is_new(1, 8, "20")
    assert is_new(2, 8, "60")
    assert is_new(2, 8, "60")
    assert is_new(2, None, "20")
    assert not is_new(2, None, "60")
    assert is_new(2, None, "20")
    clock.advance(1)
    assert is_new(2, None, "60")


def begun_on_the_wrong_thing(alike: AlikeYard) -> None:
    """A run with a reading, and the check after it, begun by a press that was on no tile."""
    for twenty in ("93.2", "93.2", "0.0", "0.0"):
        alike.press_both(twenty, "93.2")
    alike.begin()
    alike.press_both("80.1", "80.2")
    alike.act(lambda at: alike.acts.checks.begin("shore", at))
    alike.press("shore", "88.0", channel="60", count=9)
    alike.press("shore", "0.0", channel="20", count=9)


def test_what_was_taken_back_is_no_finding_of_a_check_that_the_end_of_the_daemon_broke_off(
    alike: AlikeYard,
) -> None:
    begun_on_the_wrong_thing(alike)
    alike.restart()
    (check,) = alike.writer.query("SELECT outcome FROM checks WHERE check_id = 2")
    assert check["outcome"] == "undecided"
    assert {q["bracket"] for q in alike.readings("role = 'run'")} == {"open"}


def test_a_press_that_was_taken_back_and_never_put_right_is_told_when_its_check_is_broken_off(
    alike: AlikeYard,
) -> None:
    begun_on_the_wrong_thing(alike)
    alike.act(lambda at: alike.acts.checks.abandon("shore", at))
    (check,) = alike.writer.query("SELECT outcome, message FROM checks WHERE check_id = 2")
    assert check["outcome"] == "undecided"
    assert "1 press asked for on T1 read 0.0 GU, as another piece does" in check["message"]
