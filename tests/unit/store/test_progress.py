"""How far trials are, as the store says it, each question by an index."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from acquire.model import NoticeKind
from acquire.store.placed import PROGRESS, STAGES
from acquire.store.progress import _TRIALS, Progress, Taken
from tests.unit.worked_yard import PLAN, WorkedYard


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[WorkedYard]:
    found = WorkedYard(tmp_path)
    yield found
    found.close()


def progress(yard: WorkedYard) -> Progress:
    return Progress(yard.writer.query)


def test_places_are_counted_by_how_their_checks_stand(yard: WorkedYard) -> None:
    yard.plug("shore")
    yard.check("shore")
    yard.begin(text=PLAN)
    for value in ("80.1", "80.2", "70.1"):
        yard.press("shore", value)
    assert progress(yard).taken("quay-1") == [Taken("gloss20", "bare", "shore", "open", 3)]
    yard.call("void", reading_id=7, reason="slipped")
    yard.check("shore")
    assert progress(yard).taken("quay-1") == [Taken("gloss20", "bare", "shore", "bracketed", 2)]
    (run,) = progress(yard).left_open()
    assert (run.run_id, run.trial, run.stage) == (1, "quay-1", "bare")
    yard.call("finish_run")
    assert progress(yard).left_open() == []


def test_readings_that_a_check_made_suspect_are_told_apart(yard: WorkedYard) -> None:
    yard.plug("shore")
    yard.check("shore")
    yard.begin(text=PLAN)
    yard.press("shore", "80.1")
    yard.call("finish_run")
    yard.check("shore", tile="95.9")
    assert progress(yard).taken("quay-1") == [Taken("gloss20", "bare", "shore", "suspect", 1)]


def test_a_place_that_became_suspect_twice_is_one_place(yard: WorkedYard) -> None:
    yard.plug("shore")
    yard.check("shore")
    for values in (("80.1", "80.2"), ("80.1",)):
        yard.begin(text=PLAN)
        for value in values:
            yard.press("shore", value)
        yard.call("finish_run")
        yard.check("shore", tile="95.9")
        yard.check("shore")
    assert progress(yard).taken("quay-1") == [Taken("gloss20", "bare", "shore", "suspect", 2)]
    yard.begin(text=PLAN)
    yard.press("shore", "80.3")
    yard.call("finish_run")
    yard.press("shore", "60.1")
    loose = yard.readings("role = 'loose'")[-1]["reading_id"]
    yard.call(
        "assign", reading_id=loose, trial="quay-1", stage="bare", zone="A3", replicate=1,
        reason="pressed too late",
    )  # fmt: skip
    assert progress(yard).taken("quay-1")[-1] == Taken("gloss20", "bare", "shore", "open", 2)


def test_whatever_is_done_for_a_trial_wakes_it(yard: WorkedYard) -> None:
    (known,) = progress(yard).trials()
    yard.clock.advance(3600)
    yard.call("wash", trial="quay-1")
    (after,) = progress(yard).trials()
    assert after.last_utc_ns - known.last_utc_ns >= 3600 * 10**9
    assert (after.trial, after.is_closed) == ("quay-1", False)
    yard.call("close_trial", trial="quay-1", why="done")
    assert progress(yard).trials()[0].is_closed


def test_no_question_goes_through_all_readings_of_the_store(yard: WorkedYard) -> None:
    for sql, arguments in ((_TRIALS, ()), (PROGRESS, ("quay-1",)), (STAGES, ("open",))):
        steps = [r["detail"] for r in yard.writer.query(f"EXPLAIN QUERY PLAN {sql}", arguments)]
        whole = {s for s in steps for table in ("q", "reading", "w", "v") if s == f"SCAN {table}"}
        assert not whole, steps


def test_stages_by_their_passes_are_those_that_the_view_of_readings_has(yard: WorkedYard) -> None:
    """The view works out the bracket of every reading, the quick way only those of few passes."""
    yard.plug("shore")
    yard.plug("deck")
    yard.check("shore")
    yard.begin(text=PLAN)
    for value in ("80.1", "80.2", "70.1"):
        yard.press("shore", value)
    yard.call("void", reading_id=7, reason="slipped")
    yard.call("finish_run")
    yard.press("shore", "60.1")
    loose = yard.readings("role = 'loose'")[-1]["reading_id"]
    yard.call(
        "assign", reading_id=loose, trial="quay-1", stage="bare", zone="A3", replicate=1,
        reason="pressed too late",
    )  # fmt: skip
    for tile in ("93.2", "95.9", "93.2"):
        _holds(yard)
        yard.check("shore", tile=tile)
        yard.begin(text=PLAN) if tile != "95.9" else yard.check("shore")
        if tile != "95.9":
            yard.press("shore", "80.3")
            yard.call("finish_run")
    _holds(yard)
    yard.begin("applied", text=PLAN)
    yard.press("shore", "80.4")
    yard.tell("shore", NoticeKind.ADJUSTED)
    _holds(yard)


def _holds(yard: WorkedYard) -> None:
    for state, found in (
        ("open", yard.shelf.aftermath.unclosed()),
        ("suspect", yard.shelf.aftermath.suspect_stages()),
    ):
        told = yard.writer.query(
            "SELECT trial, measure, stage, instrument, count(*) FROM readings WHERE role = 'run' "
            "AND void_reason IS NULL AND bracket = ? GROUP BY 1, 2, 3, 4",
            (state,),
        )
        assert {tuple(row) for row in told} == {tuple(stage) for stage in found}
    by_run = yard.writer.query(
        "SELECT run_id, count(*) FROM readings WHERE role = 'run' AND void_reason IS NULL AND "
        "bracket = 'suspect' AND closing_check_id = (SELECT max(check_id) FROM check_judgement) "
        "GROUP BY run_id"
    )
    if yard.shelf.adjusted_last() is None:
        suspects = {(run.run_id, run.readings) for run in yard.shelf.suspects()}
        assert {tuple(row) for row in by_run} == suspects
