"""Power and smallest visible differences against scipy's noncentral t."""

from __future__ import annotations

import math

import pytest
from scipy import stats

from acquire.analysis import power
from acquire.analysis.reach import reach_of
from acquire.analysis.student import t_factor
from acquire.analysis.uncertainty import Distribution, Kind, Term


def one_line(df: float) -> Term:
    return Term("scatter", Kind.A, 1.0, df, 1.0, Distribution.NORMAL, "")


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


def test_a_huge_difference_needs_two_readings_and_no_fewer() -> None:
    needed = power.replicates_needed(500.0)
    assert (needed.per_group, needed.power_with_one_less) == (2, None)


@pytest.mark.parametrize("d", [0.0, -1.0, math.nan])
def test_no_number_of_readings_shows_nothing(d: float) -> None:
    with pytest.raises(ValueError, match="above zero"):
        power.replicates_needed(d)


def test_pairs_need_fewer_readings_than_two_groups() -> None:
    assert power.replicates_needed(1.0, groups=1).per_group == 10  # R pwr.t.test, from memory
    assert power.replicates_needed(1.0, groups=2).per_group == 17  # J. Cohen (1988), from memory
