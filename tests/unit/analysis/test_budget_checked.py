"""Budgets of whole results by other roads: the model shaken, drawn, and carried by a library."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from uncertainties import ufloat

from acquire.analysis.budget.budgettable import table_of
from acquire.analysis.budget.propagation import drawn, sensitivities, shaken_u
from acquire.analysis.budget.reach import reach_of
from acquire.analysis.budget.uncertainty import (
    Bias,
    Budget,
    Distribution,
    Kind,
    Term,
    budget,
    rectangular,
    welch_satterthwaite,
)
from acquire.analysis.checks.bracket import Bracket
from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.results import MeasureResult, Sample, measure_results
from acquire.model import DriftCorrection
from tests.unit.analysis.bench import judged, plan_of, quiet, samples_of

READINGS = {
    ("control", "bare"): (90.0, 90.2, 90.1),
    ("wax", "bare"): (88.0, 88.1, 88.4, 88.2),
    ("control", "applied"): (89.9, 90.3, 90.1),
    ("wax", "applied"): (91.0, 91.6, 91.2),
}
RESOLUTION = 0.1


def result_of_values(samples: Sequence[Sample], values: Sequence[float]) -> MeasureResult:
    plan, measure = plan_of(["control", "wax"])
    moved = [replace(s, value=v) for s, v in zip(samples, values, strict=True)]
    brackets = [quiet("bare", 0), quiet("applied", 1000)]
    (result,) = measure_results(plan, measure, moved, brackets, RESOLUTION)
    return result


def own_u(sample: Sample) -> float:
    """The scatter of one reading, from its cell, by the standard library of numbers."""
    return float(np.std(READINGS[sample.zone, sample.stage], ddof=1))


def test_shaking_every_reading_gives_the_scatter_and_display_of_the_budget() -> None:
    samples = samples_of(READINGS)
    values = [s.value for s in samples]
    us = [own_u(s) for s in samples]
    found = judged(result_of_values(samples, values), "wax")

    def net_change(moved: Sequence[float]) -> float:
        return judged(result_of_values(samples, moved), "wax").estimate

    scatter = math.hypot(*(t.contribution for t in found.budget.terms if t.kind is Kind.A))
    assert shaken_u(net_change, values, us) == pytest.approx(scatter, rel=1e-6)
    # Rounding to the display is an error of each mean of its own, counted once and not averaged.
    (display,) = (t for t in found.budget.terms if t.distribution is Distribution.RECTANGULAR)
    assert display.contribution == pytest.approx(2 * RESOLUTION / math.sqrt(12))
    assert found.budget.combined == pytest.approx(math.hypot(scatter, display.contribution))


def test_a_reading_does_to_the_net_change_what_its_place_says() -> None:
    samples = samples_of(READINGS)
    values = [s.value for s in samples]
    found = sensitivities(
        lambda moved: judged(result_of_values(samples, moved), "wax").estimate,
        values,
        [0.0] * len(values),
    )
    for sample, c in zip(samples, found, strict=True):
        n = len(READINGS[sample.zone, sample.stage])
        sign = (1 if sample.zone == "wax" else -1) * (1 if sample.stage == "applied" else -1)
        assert c == pytest.approx(sign / n, rel=1e-5)


def test_numbers_that_carry_their_correlation_come_to_the_same_uncertainty() -> None:
    samples = samples_of(READINGS)
    shared = ufloat(0.0, 5.0)  # the meter's offset, in every reading
    net = 0.0
    for s in samples:
        n = len(READINGS[s.zone, s.stage])
        sign = (1 if s.zone == "wax" else -1) * (1 if s.stage == "applied" else -1)
        net = net + (ufloat(s.value, own_u(s)) + shared) * sign / n
    found = judged(result_of_values(samples, [s.value for s in samples]), "wax")
    scatter = math.hypot(*(t.contribution for t in found.budget.terms if t.kind is Kind.A))
    assert net.n == pytest.approx(found.estimate)  # type: ignore[attr-defined]
    assert net.s == pytest.approx(scatter)  # type: ignore[attr-defined]
    assert any("offset" in text for text in found.budget.cancels)


def corrected_change(
    samples: Sequence[Sample], checks: Sequence[tuple[float, float]]
) -> Comparison:
    """The net change after the errors of both pairs of checks are taken off each reading."""
    brackets = []
    moved = list(samples)
    for index, (stage, (opening, closing)) in enumerate(
        zip(("bare", "applied"), checks, strict=True)
    ):
        start = 1000.0 * index
        doubt = welch_satterthwaite([0.03], [math.inf])
        bracket = Bracket(
            stage, start, start + 900, closing - opening, 0.2, "", opening, False, doubt, doubt,
            "T1", 93.0, 2 * index + 1, 2 * index + 2,
            correction=DriftCorrection.OFFSET,
        )  # fmt: skip
        brackets.append(bracket)
        moved = [
            replace(s, value=s.value - opening - (closing - opening) * bracket.position(s.at_s))
            if s.stage == stage
            else s
            for s in moved
        ]
    plan, measure = plan_of(["control", "wax"])
    (result,) = measure_results(plan, measure, moved, brackets, RESOLUTION)
    return judged(result, "wax")


def test_shaking_the_checks_gives_the_lines_of_how_well_they_were_read() -> None:
    # Zone after zone, so that what a check is off by does not cancel.
    samples = [
        replace(s, at_s=s.at_s + (600 if s.zone == "wax" else 0)) for s in samples_of(READINGS)
    ]
    checks = [0.1, 0.3, -0.1, 0.4]

    def net_change(moved: Sequence[float]) -> float:
        then = corrected_change(samples, [(moved[0], moved[1]), (moved[2], moved[3])])
        # What was found of the gain stays in the result and is told beside it; that it is taken of
        # readings which move by as much is of second order.
        return then.estimate - then.budget.bias

    found = corrected_change(samples, [(0.1, 0.3), (-0.1, 0.4)])
    lines = [t for t in found.budget.terms if t.name.startswith("reading of")]
    assert len(lines) == 4
    read = math.hypot(*(t.contribution for t in lines))
    # The display of the check is in its doubt where that is the larger.
    assert shaken_u(net_change, checks, [t.u for t in lines]) == pytest.approx(read, rel=2e-3)


def known_lines() -> Budget:
    terms = [
        Term("scatter", Kind.A, 0.1, 30, 1.0, Distribution.NORMAL, ""),
        rectangular("display", 0.05, ""),
        Term("certificate", Kind.B, 0.15, math.inf, -1.0, Distribution.NORMAL, ""),
    ]
    return budget("value", "gloss_unit", terms)


def test_drawn_errors_agree_with_the_interval_of_a_budget_of_well_known_lines() -> None:
    table = known_lines()
    found = drawn(table)
    assert found.u == pytest.approx(table.combined, rel=0.03)
    assert found.agrees(table)
    assert found.held == pytest.approx(0.95, abs=0.005)
    assert drawn(table) == found


def test_drawn_errors_show_where_the_formula_does_not_hold() -> None:
    # One rectangular line alone reaches 95 % at 1.645 u and not at 1.96 u (JCGM 101:2008, 9.2).
    alone = budget("value", "gloss_unit", [rectangular("display", 0.5, "")])
    found = drawn(alone)
    assert found.half_width == pytest.approx(0.475, abs=0.002)
    assert found.held == 1.0
    assert not found.agrees(alone)


def of_four_means(sds: Sequence[float], readings: int) -> Budget:
    """A net change of four means, with the limit of a decision."""
    nu, root = readings - 1, math.sqrt(readings)
    terms = [
        Term(f"scatter {n}", Kind.A, sd / root, nu, 1.0, Distribution.NORMAL, "")
        for n, sd in enumerate(sds)
    ]
    reach = reach_of(terms)
    return budget("net", "gloss_unit", terms, coverage=(reach.half_width(0.05) / reach.u, ""))


def test_the_limit_of_a_decision_holds_the_drawn_errors_of_a_dozen_readings() -> None:
    found = drawn(of_four_means((0.1, 0.3, 0.1, 0.2), 12))
    assert found.held == pytest.approx(0.95, abs=0.01)


def test_with_three_readings_trials_hold_the_limit_and_the_law_of_knowledge_is_wider() -> None:
    """Sums of Student's t of two degrees of freedom reach further than errors of trials do."""
    sds = (0.1, 0.3, 0.1, 0.2)
    found = drawn(of_four_means(sds, 3))
    assert found.u is None  # Student's law of two has no variance
    assert 0.85 < found.held < 0.95
    draw = np.random.default_rng(4)
    cells = np.array(sds)[:, None] * draw.standard_normal((2000, 4, 3))
    wrong = 0
    for trial in cells:
        u = np.std(trial, axis=1, ddof=1)
        wrong += abs(trial.mean(axis=1).sum()) > of_four_means(u.tolist(), 3).expanded
    assert wrong / 2000 <= 0.05 + 3 * math.sqrt(0.05 * 0.95 / 2000)


def test_the_table_can_be_added_up_and_says_what_dominates() -> None:
    table = table_of(known_lines())
    assert [row.place for row in table.rows] == [2, 3, 1]
    assert table.combined == pytest.approx(
        math.sqrt(sum((row.sensitivity * row.u) ** 2 for row in table.rows))
    )
    assert sum(row.share for row in table.rows) == pytest.approx(1.0)
    assert table.expanded == pytest.approx(table.factor * table.combined)
    assert table.dominant == (2, 0)
    assert table.sentence.startswith("certificate (68 %); scatter (30 %) dominate")


def test_a_known_shift_is_added_in_full_beneath_the_table() -> None:
    line = Term("scatter", Kind.A, 0.1, 4, 1.0, Distribution.NORMAL, "")
    shifted = budget("value", "gloss_unit", [line], biases=[Bias("drift", 0.2, -1.0, "")])
    table = table_of(shifted)
    assert (table.bias, table.expanded) == pytest.approx((-0.2, table.random + 0.2))
    assert "All lines matter" in table.sentence
    assert drawn(shifted).agrees(shifted)


def test_a_table_whose_sums_are_not_its_lines_is_refused() -> None:
    with pytest.raises(ValueError, match="its lines"):
        table_of(replace(known_lines(), expanded=1.0))


def test_nothing_is_drawn_of_a_budget_of_nothing() -> None:
    nothing = budget("value", "gloss_unit", [rectangular("display", 0.0, "")])
    assert table_of(nothing).sentence == "No line contributes anything."
    with pytest.raises(ValueError, match="above zero"):
        drawn(nothing)
    with pytest.raises(ValueError, match="1000 draws"):
        drawn(known_lines(), draws=10)
