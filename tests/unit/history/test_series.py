"""Points of a history in columns."""

from __future__ import annotations

import math

import pytest

from acquire.history.series import Series
from tests.unit.history.points import points


def test_points_are_put_in_order_of_time_and_equal_moments_keep_theirs() -> None:
    series = Series.of(points([1.0, 2.0, 3.0, 4.0], [5, 1, 5, 1]))
    assert series.deviation.tolist() == [2.0, 4.0, 1.0, 3.0]
    assert series.checks == (1, 3, 0, 2)
    assert series.days.tolist() == [0.0, 0.0, 4.0, 4.0]


@pytest.mark.parametrize("strange", [math.nan, math.inf, -math.inf, 1e31])
def test_a_point_without_a_usable_figure_is_left_out_and_counted(strange: float) -> None:
    series = Series.of(points([0.1, strange, 0.2]))
    assert (series.deviation.tolist(), series.left_out) == ([0.1, 0.2], 1)
    assert series.checks == (0, 2)


@pytest.mark.parametrize("strange", [math.nan, math.inf, -0.1])
def test_a_point_whose_uncertainty_is_none_is_left_out(strange: float) -> None:
    given = points([0.1, 0.2])
    given[0] = given[0]._replace(u=strange)
    assert Series.of(given).left_out == 1


def test_a_readjustment_before_a_point_left_out_counts_for_the_next() -> None:
    given = points([0.1, math.nan, 0.2, 0.3])
    given[1] = given[1]._replace(was_readjusted=True)
    assert Series.of(given).was_readjusted.tolist() == [False, True, False]


def test_no_points_make_an_empty_series() -> None:
    series = Series.of([])
    assert (len(series), series.unit, series.left_out) == (0, "", 0)


def test_two_units_are_no_history() -> None:
    given = points([0.1, 0.2])
    given[1] = given[1]._replace(unit="percent")
    with pytest.raises(ValueError, match="one unit in a history is wanted, got gloss_unit, perc"):
        Series.of(given)


def test_a_day_of_the_series_is_a_moment_again() -> None:
    given = points([0.1, 0.2], [0, 2.5])
    assert Series.of(given).moment(2.5) == given[1].at_ns
