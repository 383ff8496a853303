"""What goes from the store into the analysis: the right readings, checks, pieces and steps."""

from __future__ import annotations

from pathlib import Path

import pytest

from acquire.analysis.comparisons.comparison import Comparison
from acquire.report.evidence.evidence import Evidence, evidence_of
from acquire.report.record.loading import load_trial
from acquire.report.record.record import Standing
from tests.unit.reported import full, plan_text, read_stage, small
from tests.yard import Yard

TWO = {"none": "Untreated", "x": "Slipway wax"}
TWO_ZONES = {"A1": "none", "A2": "x"}


def evidence(yard: Yard, trial: str = "gelcoat-1") -> Evidence:
    (found,) = evidence_of(load_trial(yard.bench.store, trial))
    return found


def drifts(found: Evidence) -> dict[tuple[str, str], float | None]:
    """Drift of the checks around each zone and stage."""
    result: dict[tuple[str, str], float | None] = {}
    for level in found.result.levels:
        for holding in level.cell.holdings:
            drift = holding.bracket.drift if holding.bracket else None
            result[level.cell.zone, level.cell.stage] = drift
    return result


def test_every_reading_that_counts_goes_in_and_no_other(tmp_path: Path) -> None:
    yard = full(tmp_path)
    found = evidence(yard)
    counting = {row["reading_id"] for row in yard.readings("counts = 1")}
    yard.close()
    used = {s.reading_id for level in found.result.levels for s in level.cell.samples}
    assert used == counting
    assert len(used) == 90
    assert {r.standing for r in found.readings} == {
        Standing.COUNTS,
        Standing.VOID,
        Standing.SUSPECT,
    }


def test_checks_are_those_of_the_reading_s_own_meter_when_two_work_at_once(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    text = plan_text(TWO, TWO_ZONES, stages=("bare", "cured"), replicates=2)
    for meter in ("shore", "deck"):
        yard.plug(meter)
    yard.check("shore", tile="93.2")
    yard.check("deck", tile="93.0")
    yard.begin("bare", "shore", text)
    for value in ("80.1", "80.2"):
        yard.press("shore", value)
    yard.act(lambda at: yard.acts.runs.finish("to the other meter", at))
    yard.begin("bare", "deck", text)
    for value in ("80.1", "80.2"):
        yard.press("deck", value)
    yard.act(lambda at: yard.acts.runs.finish("", at))
    yard.check("shore", tile="93.5")
    yard.check("deck", tile="92.9")
    found = evidence(yard)
    yard.close()
    assert drifts(found)["A1", "bare"] == pytest.approx(0.3)
    assert drifts(found)["A2", "bare"] == pytest.approx(-0.1)
    offsets = [
        h.bracket.opening_deviation
        for v in found.result.levels
        for h in v.cell.holdings
        if h.bracket is not None
    ]
    assert offsets == pytest.approx([0.0, -0.2])


def test_where_the_nearest_piece_is_a_zero_one_that_shows_a_gain_stands_for_the_meter(
    tmp_path: Path,
) -> None:
    yard = Yard(tmp_path)
    text = plan_text(TWO, TWO_ZONES, stages=("bare",), replicates=1)
    yard.plug("shore")
    yard.check("shore", tile="93.3", trap="0.1")
    read_stage(yard, "bare", text, [("12.0",), ("13.0",)])
    yard.check("shore", tile="93.4", trap="0.0")
    found = evidence(yard)
    yard.close()
    (anchor,) = found.anchors
    assert anchor.opening.piece == "T1"
    assert drifts(found)["A1", "bare"] == pytest.approx(0.1)


def test_the_step_of_the_display_is_that_of_the_check_policy(tmp_path: Path) -> None:
    yard = small(tmp_path)
    found = evidence(yard, "small")
    yard.close()
    assert found.result.resolution == 0.1
    assert "policy gloss-20" in found.resolution_source


def test_without_a_check_the_step_is_the_last_digit_that_was_sent(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    yard.plug("shore")
    text = plan_text(TWO, TWO_ZONES, stages=("bare",), replicates=2, head="unchecked = true")
    read_stage(yard, "bare", text, [("80", "80.25"), ("81.1", "81.2")])
    found = evidence(yard)
    yard.close()
    assert found.result.resolution == 0.01
    assert all(h.bracket is None for v in found.result.levels for h in v.cell.holdings)


def test_a_clock_set_back_between_the_checks_stops_no_report(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    text = plan_text(TWO, TWO_ZONES, stages=("bare", "cured"), replicates=2)
    yard.plug("shore")
    yard.check("shore")
    read_stage(yard, "bare", text, [("80.1", "80.2"), ("81.1", "81.2")])
    yard.set_back(3600)
    yard.check("shore", tile="93.5")
    found = evidence(yard)
    yard.close()
    assert drifts(found)["A2", "bare"] == pytest.approx(0.3)
    levers = [h.lever for v in found.result.levels for h in v.cell.holdings]
    assert levers
    assert all(0 <= lever <= 1 for lever in levers)


def test_an_open_bracket_has_no_drift_and_says_so(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    text = plan_text(TWO, TWO_ZONES, stages=("bare", "cured"), replicates=2)
    yard.plug("shore")
    yard.check("shore")
    for stage in ("bare", "cured"):
        read_stage(yard, stage, text, [("80.1", "80.2"), ("81.1", "81.2")])
    found = evidence(yard)
    yard.close()
    assert drifts(found)["A1", "bare"] is None
    (comparison,) = found.result.comparisons
    assert isinstance(comparison, Comparison)
    assert any("No closing check after bare" in c for c in comparison.caveats)


def test_one_record_sees_one_moment_of_the_store(tmp_path: Path) -> None:
    yard = small(tmp_path)
    record = load_trial(yard.bench.store, "small")
    yard.press("shore", "80.0")
    again = load_trial(yard.bench.store, "small")
    yard.close()
    assert record.loose_elsewhere == 0
    assert again.loose_elsewhere == 1
    assert record.readings == again.readings
