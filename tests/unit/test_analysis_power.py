"""Power and smallest visible differences against scipy's noncentral t."""

from __future__ import annotations

import math

import pytest
from scipy import stats

from acquire.analysis.reach import reach_of
from acquire.analysis.student import t_factor
from acquire.analysis.uncertainty import Term
from acquire.verify.calcs import CALCS
from acquire.verify.calcs.answer import Answer
from acquire.verify.calcs.textbook import scatter_line


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
