"""Power and smallest visible differences against scipy's noncentral t."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from acquire.analysis.budget.reach import reach_of
from acquire.analysis.budget.uncertainty import Term
from acquire.analysis.laws.student import t_factor
from acquire.analysis.results import measure_results
from acquire.verify.calcs import CALCS
from acquire.verify.calcs.answer import Answer
from acquire.verify.calcs.textbook import scatter_line
from tests.unit.analysis.bench import plan_of


def one_line(df: float) -> Term:
    return scatter_line(1.0, df)


@pytest.mark.parametrize("df", [2, 3.5, 8, 24, 200])
@pytest.mark.parametrize("delta", [0.5, 2.0, 3.1])
def test_power_agrees_with_the_noncentral_t_law(df: float, delta: float) -> None:
    c = t_factor(df)
    law = stats.nct(df, delta)
    found = reach_of([one_line(df)]).power(delta, 0.05)
    assert found == pytest.approx(float(law.sf(c) + law.cdf(-c)), abs=1e-9)


def test_without_a_difference_the_power_is_the_level() -> None:
    for df in (1, 5, math.inf):
        assert reach_of([one_line(df)]).power(0.0, 0.05) == pytest.approx(0.05, abs=1e-9)


@pytest.mark.parametrize("df", [1, 2, 12, math.inf])
def test_the_smallest_difference_has_the_power_it_promises(df: float) -> None:
    for reach in (reach_of([one_line(df)]), reach_of([one_line(df)], 4)):
        delta = reach.smallest(0.05, 0.8)
        assert reach.power(delta, 0.05) == pytest.approx(0.8, abs=1e-9)


def test_rules_say_how_often_a_difference_is_shown_that_a_run_names_by_its_own_estimate() -> None:
    """The scatter r of the run that names it, and that of the repeat, are estimates of one truth.

    Each is drawn by its own law here, where the rule was reckoned by the noncentral t law.
    """
    draw = np.random.default_rng(8)
    (said,) = (r for r in rules_said() if r.startswith("The smallest difference a run"))
    assert "if all truly scatters as it did in this run" in said
    for shown, df in ((63, 2), (69, 4), (74, 10), (78, 30)):
        c = t_factor(df)
        delta = reach_of([one_line(df)]).smallest(0.05, 0.8)
        named, again = (np.sqrt(draw.chisquare(df, 200_000) / df) for _ in range(2))
        z = draw.standard_normal(200_000)
        assert float(np.mean(np.abs(delta * named + z) > c * again)) == pytest.approx(
            shown / 100, abs=0.007
        )
        assert f"{shown} " in said
        assert f" {df} degrees of freedom" in said or f"{shown} with {df}" in said


def rules_said() -> tuple[str, ...]:
    plan, measure = plan_of(["control", "wax"])
    (result,) = measure_results(plan, measure, [], [], 0.1)
    return result.rules


def test_a_limit_that_everything_passes_sees_everything() -> None:
    assert reach_of([one_line(10)]).smallest(0.9, 0.8) == 0.0


def needed(d: float) -> Answer:
    return CALCS["stats.replicates_needed"]({"d": d, "alpha": 0.05, "power": 0.8})


def test_a_huge_difference_needs_two_readings_and_no_fewer() -> None:
    found = needed(500.0)
    assert (found["n_per_group"], found["power_at_n_minus_1"]) == (2, "undefined")


@pytest.mark.parametrize("d", [0.0, -1.0, math.nan])
def test_no_number_of_readings_shows_nothing(d: float) -> None:
    with pytest.raises(ValueError, match="above zero"):
        needed(d)


def test_a_difference_that_nobody_can_see_is_said_to_be_one() -> None:
    with pytest.raises(ValueError, match="1000 readings a group do not show"):
        needed(0.01)


def test_the_fewest_readings_are_those_of_the_tables() -> None:
    assert needed(1.0)["n_per_group"] == 17  # J. Cohen (1988), from memory
    assert needed(0.5)["n_per_group"] == 64  # the same
