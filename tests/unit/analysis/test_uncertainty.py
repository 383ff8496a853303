"""Budgets: combination, effective degrees of freedom, coverage, and the risk at limits."""

from __future__ import annotations

import math

import pytest

from acquire.analysis.budget import conformance
from acquire.analysis.budget.uncertainty import (
    Combined,
    Distribution,
    Kind,
    Term,
    budget,
    degrees,
    rectangular,
    welch_satterthwaite,
)
from acquire.analysis.laws.student import t_factor


def test_the_guides_example_of_effective_degrees_of_freedom() -> None:
    # JCGM 100:2008, G.4.1: relative uncertainties 0.25, 0.57, 0.82 % with 9, 4, 14 degrees of
    # freedom give 1.03 % and 19.0; from memory. Unrounded it is 18.9987, so that cutting before
    # rounding gives 18.
    result = welch_satterthwaite([0.25, 0.57, 0.82], [9, 4, 14])
    assert result.u == pytest.approx(1.0294659)
    assert result.nu == pytest.approx(18.998742)
    assert result.nu_cut == 18


def test_the_guides_example_of_a_rectangular_term() -> None:
    # JCGM 100:2008, 4.3.7: half width 0.40e-6 gives u = 0.23e-6; from memory.
    assert rectangular("expansion", 0.4e-6, "").u == pytest.approx(0.23e-6, abs=0.005e-6)


def test_a_whole_number_of_degrees_of_freedom_is_not_cut() -> None:
    assert welch_satterthwaite([0.1, 0.1], [3, 3]).nu_cut == 6
    assert Combined(1.0, 3.9999999999).nu_cut == 4
    assert Combined(1.0, 3.99).nu_cut == 3
    assert Combined(1.0, math.inf).nu_cut == math.inf


def test_terms_that_are_known_leave_infinitely_many_degrees_of_freedom() -> None:
    assert welch_satterthwaite([0.0, 0.3], [4, math.inf]) == (0.3, math.inf)
    assert welch_satterthwaite([], []) == (0.0, math.inf)


def test_tiny_terms_keep_their_degrees_of_freedom() -> None:
    # Fourth powers of the figures themselves would underflow.
    assert welch_satterthwaite([1e-150, 1e-150], [2, 2]).nu == pytest.approx(4)


@pytest.mark.parametrize(
    ("us", "nus"),
    [([-0.1], [3]), ([math.nan], [3]), ([0.1], [0]), ([0.1], [math.nan]), ([0.1], [])],
)
def test_what_is_no_term_is_refused(us: list[float], nus: list[float]) -> None:
    with pytest.raises(ValueError, match=r"degrees of freedom|contributions"):
        welch_satterthwaite(us, nus)


def test_a_budget_is_the_sum_of_its_lines() -> None:
    lines = (
        Term("scatter", Kind.A, 0.2, 8, 0.5, Distribution.NORMAL, ""),
        rectangular("display", 0.05, "", sensitivity=-2.0),
    )
    table = budget("mean", "gloss_unit", lines)
    assert [t.contribution for t in lines] == pytest.approx([0.1, 0.1 / math.sqrt(3)])
    assert table.combined == pytest.approx(math.sqrt(0.01 + 0.01 / 3))
    assert sum(table.share(t) for t in lines) == pytest.approx(1)
    assert table.nu == pytest.approx(8 * (4 / 3) ** 2)
    assert table.expanded == pytest.approx(t_factor(table.nu) * table.combined)
    assert "Student's t for 95 % at 14.2 effective degrees of freedom" in table.coverage_rule


def test_another_factor_can_be_given_and_is_named() -> None:
    lines = [rectangular("display", 0.05, "")]
    table = budget("mean", "gloss_unit", lines, coverage=(2.43, "k = 2.43 is Dunnett's limit."))
    assert table.coverage_factor == 2.43
    assert table.expanded == pytest.approx(2.43 * 0.05 / math.sqrt(3))


def test_a_budget_of_nothing_is_zero_and_has_no_shares() -> None:
    line = rectangular("display", 0.0, "")
    table = budget("mean", "gloss_unit", [line])
    assert (table.combined, table.expanded, table.share(line)) == (0.0, 0.0, 0.0)


def test_degrees_of_freedom_are_printed_as_they_are() -> None:
    assert [degrees(v) for v in (4.0, 16.04, 46.66, 2e4, math.inf)] == [
        "4", "16", "46.7", "more than 10 000", "infinitely many",
    ]  # fmt: skip


def test_no_uncertainty_makes_no_probability() -> None:
    with pytest.raises(ValueError, match="above zero"):
        conformance.conformance_probability(1.0, 0.0, upper=2.0)
    with pytest.raises(ValueError, match="above zero"):
        conformance.guard_band(10.0, 0.0, 2, 1)


def test_limits_that_do_not_bind_are_kept_for_certain() -> None:
    assert conformance.conformance_probability(1.0, 0.2) == 1.0
