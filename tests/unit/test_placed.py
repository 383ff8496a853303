"""What the recorder asks of readings in runs is what the view `readings` says, only sooner."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from acquire.store.placed import FILLED, STAGES, SUSPECT_RUNS
from tests.unit.reported import full
from tests.yard import Yard

FILLED_BY_VIEW = """SELECT reading_id, zone, stage, replicate, channel, value_real FROM readings
WHERE run_id IN (SELECT run_id FROM runs WHERE trial = ? AND measure = ? AND stage = ?)
  AND counts = 1 ORDER BY reading_id"""
STAGES_BY_VIEW = """SELECT trial, measure, stage, instrument, count(*) AS readings FROM readings
WHERE role = 'run' AND void_reason IS NULL AND bracket = ?
GROUP BY trial, measure, stage, instrument ORDER BY max(reading_id) DESC LIMIT 5"""
SUSPECTS_BY_VIEW = """SELECT closing_check_id AS check_id, instrument, run_id, trial, stage,
    count(*) AS readings, CASE WHEN (
        SELECT outcome FROM check_judgement AS j WHERE j.check_id = closing_check_id
    ) <> 'fail' THEN min(check_id) END AS limits_of
FROM readings WHERE closing_check_id = ? AND bracket = 'suspect' AND void_reason IS NULL
GROUP BY run_id ORDER BY run_id"""


@pytest.fixture(scope="module")
def yard(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Yard]:
    """A whole story: suspects, a re-adjustment, voids, checks that fail and stay undecided."""
    made = full(tmp_path_factory.mktemp("story"))
    yield made
    made.close()


def both(yard: Yard, quick: str, by_view: str, *arguments: object) -> list[tuple[object, ...]]:
    """The rows of a query, which both ways give alike."""
    found = [tuple(row) for row in yard.writer.query(quick, arguments)]
    assert found == [tuple(row) for row in yard.writer.query(by_view, arguments)]
    return found


@pytest.mark.parametrize("stage", ["bare", "applied", "wash-5"])
def test_the_readings_that_count_at_a_stage(yard: Yard, stage: str) -> None:
    assert both(yard, FILLED, FILLED_BY_VIEW, "gelcoat-1", "gloss", stage)


def test_a_stage_that_nobody_ran_has_none(yard: Yard) -> None:
    assert both(yard, FILLED, FILLED_BY_VIEW, "gelcoat-1", "gloss", "wash-10") == []


@pytest.mark.parametrize("state", ["open", "bracketed", "suspect", "not closed"])
def test_the_stages_with_readings_of_a_state(yard: Yard, state: str) -> None:
    both(yard, STAGES, STAGES_BY_VIEW, state)


def test_some_readings_of_the_story_are_suspect_and_others_are_bracketed(yard: Yard) -> None:
    for state in ("bracketed", "suspect"):
        assert both(yard, STAGES, STAGES_BY_VIEW, state)


def test_the_runs_that_each_check_made_suspect(yard: Yard) -> None:
    checks = [row[0] for row in yard.writer.query("SELECT check_id FROM check_judgement")]
    found = [both(yard, SUSPECT_RUNS, SUSPECTS_BY_VIEW, check) for check in checks]
    assert any(found)


def test_a_void_and_an_assignment_count_as_in_the_view(tmp_path: Path) -> None:
    own = Yard(tmp_path)
    own.plug("shore")
    own.check("shore")
    own.clock.advance(5)
    own.press("shore", "82.0")
    loose = own.writer.query("SELECT max(id) FROM reading")[0][0]
    own.begin("bare")
    for value in ("82.1", "82.2"):
        own.clock.advance(2)
        own.press("shore", value)
    voided = own.writer.query("SELECT max(id) FROM reading")[0][0]
    own.act(lambda at: own.acts.readings.void(voided, "it slipped", at))
    own.act(
        lambda at: own.acts.readings.assign(
            loose, "gelcoat", None, "A2", "bare", 2, "pressed too early", at
        )
    )
    found = both(own, FILLED, FILLED_BY_VIEW, "gelcoat", "gloss20", "bare")
    assert [row[0] for row in found] == [loose, voided - 1]
    ((*_, readings),) = both(own, STAGES, STAGES_BY_VIEW, "open")
    assert readings == 2
    own.check("shore", tile="95.2")
    last = own.writer.query("SELECT max(check_id) FROM check_judgement")[0][0]
    ((*_, suspects, limits_of),) = both(own, SUSPECT_RUNS, SUSPECTS_BY_VIEW, last)
    assert (suspects, limits_of) == (2, None)
    own.close()
