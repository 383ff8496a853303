"""Budgets of net changes checked by shaking and drawing, and a wrong one found out."""

from __future__ import annotations

from dataclasses import replace

import pytest
from numpy.random import default_rng

from acquire.analysis.budget.uncertainty import Distribution, Kind, Term, budget
from acquire.analysis.budgetproof import HELD_OF_FEW, Proof, proof_of
from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.results import MeasureResult
from tests.unit.analysis.bench import has_nan, judged, result_of, trial
from tests.unit.analysis.scatters import Scenario, trial_result

DRAWS = 20_000


def proved(result: MeasureResult, found: Comparison) -> Proof:
    return proof_of(found, result, DRAWS)


def test_a_budget_of_single_zones_is_the_model_shaken_reading_by_reading() -> None:
    result = trial_result(Scenario(3, 4), default_rng(3))
    for found in result.comparisons:
        assert isinstance(found, Comparison)
        proof = proved(result, found)
        assert proof.holds
        assert proof.shaken == pytest.approx(proof.scatter)
        assert "the same." in proof.sentences[1]
        assert "Student's law of such a line" in proof.sentences[2] or proof.drawn.held > 0.94
        assert not has_nan(proof.table)


def test_a_budget_of_several_zones_is_the_model_shaken_zone_by_zone() -> None:
    draw = default_rng(1)
    zones = {
        f"{name}{k}": tuple(level + draw.normal(0, 0.1, 3).round(2))
        for name, level in (("control", 90.0), ("wax", 92.0))
        for k in (1, 2, 3)
    }
    bare = {(z, "bare"): (90.0, 90.1, 90.2) for z in zones}
    result = result_of(bare | {(z, "applied"): v for z, v in zones.items()})
    found = judged(result, "wax")
    assert found.is_of_zones
    proof = proved(result, found)
    assert proof.shaken == pytest.approx(proof.scatter)
    assert proof.holds


def test_two_readings_a_cell_are_checked_too() -> None:
    readings = {key: values[:2] for key, values in trial(wax=(92.0, 92.1, 92.2)).items()}
    result = result_of(readings, resolution=0.001)
    proof = proved(result, judged(result, "wax"))
    # The sum of four Cauchy laws against the limit of one treatment (see the module).
    assert proof.drawn.held == pytest.approx(0.81, abs=0.02)
    assert proof.drawn.held > HELD_OF_FEW
    assert proof.holds
    assert "rests on few readings" in proof.sentences[2]


def test_a_budget_that_forgot_a_line_or_halved_its_limit_is_found_out() -> None:
    result = trial_result(Scenario(1, 5), default_rng(4))
    (found,) = result.comparisons
    assert isinstance(found, Comparison)
    lines, kept = found.budget.terms, found.budget.coverage_factor
    without = budget("net", result.unit, lines[1:], coverage=(kept, ""))
    proof = proved(result, replace(found, budget=without))
    assert not proof.holds
    assert "NOT THE SAME" in proof.sentences[1]
    narrow = budget("net", result.unit, lines, coverage=(kept / 4, ""))
    proof = proved(result, replace(found, budget=narrow))
    assert not proof.holds
    assert "FEWER THAN IT SHOULD" in proof.sentences[2]


def test_how_well_a_check_was_read_is_no_scatter_of_the_zones() -> None:
    result = result_of(trial(wax=(92.0, 92.3, 92.2)))
    found = judged(result, "wax")
    of_check = Term("reading of check 9, piece T1", Kind.A, 0.5, 4.0, 1.0, Distribution.NORMAL, "")
    terms = (*found.budget.terms, of_check)
    wider = budget("net", result.unit, terms, coverage=(found.budget.coverage_factor, ""))
    judged_again = replace(found, budget=wider)
    proof = proved(result, judged_again)
    assert proof.shaken == pytest.approx(proof.scatter)


def test_readings_that_all_agree_are_checked_without_scatter() -> None:
    same = {key: (90.0, 90.0, 90.0) for key in trial(wax=(0.0,))}
    result = result_of(same)
    proof = proved(result, judged(result, "wax"))
    assert (proof.shaken, proof.scatter) == (0.0, 0.0)
    assert proof.holds
