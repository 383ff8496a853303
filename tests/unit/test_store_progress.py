"""How far trials are, as the store says it, each question by an index."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from acquire.store.placed import PROGRESS
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
    for sql, arguments in ((_TRIALS, ()), (PROGRESS, ("quay-1",))):
        steps = [r["detail"] for r in yard.writer.query(f"EXPLAIN QUERY PLAN {sql}", arguments)]
        whole = {s for s in steps for table in ("q", "reading", "w", "v") if s == f"SCAN {table}"}
        assert not whole, steps
