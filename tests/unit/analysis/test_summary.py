"""Summaries of a few readings: clear answers for every kind of little data."""

from __future__ import annotations

import math

import pytest

from acquire.analysis.samples import outlier, spread
from acquire.analysis.samples.summary import summarise


def test_no_reading_has_no_mean_and_says_so() -> None:
    s = summarise([])
    assert (s.n, s.mean, s.sd, s.deviation, s.deviation_index, s.outlier) == (0,) + (None,) * 5
    assert s.remark == "No reading."


def test_one_reading_has_a_mean_and_no_scatter() -> None:
    s = summarise([91.2])
    assert (s.n, s.mean, s.sd, s.outlier) == (1, 91.2, None, None)
    assert "scatter cannot be known" in s.remark


def test_equal_readings_have_no_scatter_and_say_where_it_hides() -> None:
    s = summarise([87.3] * 7, resolution=0.1)
    assert (s.mean, s.sd, s.deviation) == (87.3, 0.0, 0.0)
    assert (
        s.remark
        == "All 7 readings are equal: the display step of 0.1 hides how they scatter, or they "
        "agree by chance."
    )


def test_the_largest_deviation_carries_its_sign_and_place() -> None:
    s = summarise([93.1, 93.3, 93.2, 90.0, 93.2])
    assert s.deviation == pytest.approx(90.0 - 92.56)
    assert s.deviation_index == 3


def test_an_outlier_is_flagged_and_stays_in_the_mean() -> None:
    s = summarise([93.1, 93.3, 93.2, 93.2, 90.0], resolution=0.1)
    assert s.is_flagged
    assert s.outlier is not None
    assert s.outlier.suspect == 4
    assert s.mean == pytest.approx(92.56)
    assert "flagged, not removed" in s.remark


def test_a_last_digit_that_flips_once_is_no_outlier() -> None:
    values = [93.1, 93.1, 93.1, 93.1, 93.2]
    assert summarise(values, resolution=0.1).is_flagged is False
    # Without knowing the display step the bare test would call it one.
    assert summarise(values).is_flagged is True


def test_what_the_display_rounds_away_makes_no_outlier() -> None:
    values = [78.7, 78.7, 78.9]
    assert summarise(values).is_flagged is True
    assert summarise(values, resolution=0.1).is_flagged is False
    # So far from two that are alike no rounding has made it.
    assert summarise([78.7, 78.7, 89.0], resolution=0.1).is_flagged is True
    assert summarise([78.9, 78.7, 78.7], resolution=0.1).is_flagged is False
    assert summarise([78.7, 78.7, 78.9], resolution=0.001).is_flagged is True


def test_two_readings_are_never_outliers_of_one_another() -> None:
    assert summarise([50.0, 99.0]).outlier is None


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, 1e101])
def test_what_is_no_measurement_is_refused(value: float) -> None:
    with pytest.raises(ValueError, match="finite value"):
        summarise([90.0, value])


def test_a_large_common_offset_costs_no_digits() -> None:
    small = summarise([0.0, 1.0, 2.0, 4.0])
    large = summarise([2.0**40 + v for v in (0.0, 1.0, 2.0, 4.0)])
    assert large.sd == small.sd


def test_scatter_far_below_one_does_not_vanish() -> None:
    s = summarise([0.0, 3e-200, 6e-200])
    assert s.sd == pytest.approx(3e-200)


def test_grubbs_wants_three_readings() -> None:
    with pytest.raises(ValueError, match="at least 3"):
        outlier.grubbs_critical(2)
    with pytest.raises(ValueError, match="at least 3"):
        outlier.grubbs_p(1.0, 2)


def test_the_largest_possible_outlier_has_no_chance() -> None:
    assert outlier.grubbs_p(outlier.largest_possible(5), 5) == pytest.approx(0.0, abs=1e-20)


def test_half_equal_readings_have_no_modified_z() -> None:
    assert spread.modified_z([1.0, 1.0, 1.0, 2.0], 3) is None


def test_equal_readings_have_no_autocorrelation() -> None:
    assert spread.lag_one_autocorrelation([4.0, 4.0, 4.0]) is None


def test_other_views_of_scatter_want_enough_readings() -> None:
    for act in (lambda: spread.c4(1), lambda: spread.d2(1)):
        with pytest.raises(ValueError, match="at least 2"):
            act()
    with pytest.raises(ValueError, match="no median"):
        spread.median_absolute_deviation([])
    with pytest.raises(ValueError, match="no autocorrelation"):
        spread.lag_one_autocorrelation([])


@pytest.mark.parametrize(
    ("n", "c4", "d2"),
    [(3, 0.8862, 1.693), (4, 0.9213, 2.059), (8, 0.9650, 2.847), (10, 0.9727, 3.078)],
)
def test_control_chart_constants_are_those_of_the_tables(n: int, c4: float, d2: float) -> None:
    # ISO 7870-2, printed to four and three decimals; from memory.
    assert spread.c4(n) == pytest.approx(c4, abs=5e-5)
    assert spread.d2(n) == pytest.approx(d2, abs=5e-4)


@pytest.mark.parametrize(
    ("values", "is_told"),
    [
        # Two alike make any third as odd as one of three can be: 1.1547, beyond the limit 1.1543.
        ((80.3, 80.0, 80.3), False),
        ((80.3, 78.0, 80.3), False),
        ((80.3, 70.0, 80.3), True),
        # Five of which one slipped over the edge.
        ((80.3, 80.2, 80.4, 80.3, 70.0), True),
    ],
)
def test_a_reading_is_odd_only_if_it_is_so_whatever_the_display_rounded_off(
    values: tuple[float, ...], is_told: bool
) -> None:
    found = summarise(list(values), resolution=0.1).outlier
    assert found is not None
    assert found.statistic > found.critical
    assert found.is_outlier is is_told
