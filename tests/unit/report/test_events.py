"""What happened to the meters of a trial, told to a reader who knows nothing of the program."""

from __future__ import annotations

from pathlib import Path

from acquire.model import NoticeKind
from acquire.report.record.loading import load_trial
from acquire.report.sections.checks import check_blocks
from acquire.report.sections.event import Event
from acquire.report.sections.events import events
from tests.unit.drifting import daily, rising, yard_of
from tests.yard import Yard


def told(yard: Yard) -> tuple[Event, ...]:
    return events(load_trial(yard.bench.store, "gelcoat"))


def test_of_a_trial_in_which_all_went_well_nothing_is_told(tmp_path: Path) -> None:
    yard = yard_of(tmp_path)
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.check("shore")
    assert told(yard) == ()
    yard.close()


def test_a_failed_closing_check_tells_the_suspects_and_whether_their_places_were_read_again(
    tmp_path: Path,
) -> None:
    yard = yard_of(tmp_path)
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.act(lambda at: yard.acts.runs.finish("", at))
    yard.check("shore", tile="95.6")
    (failed,) = told(yard)
    assert failed.title == "Check 2 of shore failed, and 1 earlier reading became suspect"
    assert "is left out of every figure of this page" in failed.means
    assert "too few for a trend" in failed.happened
    assert "has not been checked again" in failed.done
    assert "Their places have not been read again." in failed.done
    yard.tell("shore", NoticeKind.ADJUSTED)
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.0")
    failed, adjusted = told(yard)
    assert "shore was re-adjusted and checked again" in failed.done
    assert "all of their places were read again in run 2" in failed.done
    assert adjusted.title == "shore was re-adjusted, and check 3 passed"
    assert "as found (check 2, the last one before): T1 at 20° +2.40 GU" in adjusted.happened
    yard.close()


def test_a_check_from_before_the_first_reading_of_a_trial_means_nothing_for_it(
    tmp_path: Path,
) -> None:
    yard = yard_of(tmp_path)
    yard.check("shore", tile="95.6")
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.check("shore", tile="95.6")
    assert [event.title.split(",")[0] for event in told(yard)] == ["Check 3 of shore failed"]
    early, _, late = check_blocks(load_trial(yard.bench.store, "gelcoat"))
    assert early.life.startswith("It came before the first reading of this trial")
    assert early.meaning == ""
    assert late.life.startswith("No reading rests on it")
    assert "since the last check that passed are suspect" in late.meaning
    yard.close()


def test_an_undecided_check_says_that_it_confirms_nothing_and_what_came_under_it(
    tmp_path: Path,
) -> None:
    yard = yard_of(tmp_path)
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.check("shore", tile="94.1")
    yard.press("shore", "80.2")
    yard.check("shore")
    (undecided,) = told(yard)
    assert undecided.title == "Check 2 of shore was undecided"
    assert "The check cannot say on which side" in undecided.means
    assert "1 reading taken since check 1 passed is neither confirmed nor made suspect by it" in (
        undecided.means
    )
    assert "came from shore all the same" in undecided.means
    assert undecided.done.endswith("check 3 passed.")
    yard.close()


def test_a_pass_that_ended_early_is_told_before_the_check_that_followed(tmp_path: Path) -> None:
    yard = yard_of(tmp_path)
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.unplug("shore")
    yard.plug("shore")
    yard.check("shore", tile="95.6")
    ended, failed = told(yard)
    assert ended.title == "The pass of check 1 of shore ended early: unplugged"
    assert ended.done == "shore was checked again: check 2 failed."
    assert failed.title.startswith("Check 2 of shore failed")
    yard.close()


def test_a_drift_that_blocks_in_a_trial_is_told_to_have_been_foreseen(tmp_path: Path) -> None:
    yard = yard_of(tmp_path)
    daily(yard, rising(93.2, 0.05, 10))
    yard.check("shore", tile="93.7")
    yard.begin()
    yard.press("shore", "80.1")
    yard.check("shore", tile="94.1")
    (undecided,) = told(yard)
    assert "Was that seen coming? With T1 at 20° it was foreseen: check " in undecided.happened
    yard.close()
