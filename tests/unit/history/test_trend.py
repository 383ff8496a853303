"""Lines through deviations, against a general library and against their own definition."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import linregress, norm
from scipy.stats import t as student

from acquire.history.lack import Lack
from acquire.history.trend import Line, ordinary, weighted

DAYS = np.array([0.0, 1.0, 3.0, 4.0, 8.0, 9.0, 20.0])
VALUES = np.array([0.11, 0.02, 0.10, 0.16, 0.12, 0.22, 0.31])
U = np.array([0.06, 0.1, 0.04, 0.08, 0.12, 0.06, 0.1])


def line(found: Line | Lack) -> Line:
    assert isinstance(found, Line)
    return found


def test_the_line_is_that_of_a_general_library() -> None:
    fitted, other = line(ordinary(DAYS, VALUES)), linregress(DAYS, VALUES)
    assert fitted.slope == pytest.approx(other.slope)
    assert fitted.at(0.0).value == pytest.approx(other.intercept)
    assert fitted.u_slope == pytest.approx(other.stderr)
    assert fitted.p == pytest.approx(other.pvalue)
    assert fitted.explained == pytest.approx(other.rvalue**2)
    half = student.ppf(0.975, 5) * other.stderr
    assert fitted.slope_interval == pytest.approx((other.slope - half, other.slope + half))


def test_the_interval_of_a_further_check_holds_as_often_as_it_says() -> None:
    rng = np.random.default_rng(5)
    held = 0
    for _ in range(4000):
        ahead = line(ordinary(DAYS, 0.01 * DAYS + rng.normal(0, 0.1, 7))).at(30.0)
        held += ahead.low <= 0.3 + rng.normal(0, 0.1) <= ahead.high
    assert held / 4000 == pytest.approx(0.95, abs=0.014)


def test_weights_follow_the_law_of_propagation() -> None:
    # By matrices: cov = (A' V^-1 A)^-1 (ISO/TS 28037:2010, 6; from memory).
    design = np.column_stack([np.ones(7), DAYS])
    covariance = np.linalg.inv(design.T @ np.diag(U**-2) @ design)
    intercept, slope = covariance @ design.T @ (VALUES / U**2)
    chi_squared = float((((VALUES - design @ [intercept, slope]) / U) ** 2).sum())
    assert chi_squared < 5
    fitted = line(weighted(DAYS, VALUES, U))
    assert (fitted.at(0.0).value, fitted.slope) == pytest.approx((intercept, slope))
    assert fitted.u_slope == pytest.approx(math.sqrt(covariance[1, 1]))
    at = np.array([1.0, 30.0])
    half = norm.ppf(0.975) * math.sqrt(at @ covariance @ at)
    ahead = fitted.at(30.0)
    assert (ahead.line_high - ahead.value) == pytest.approx(half)
    check = norm.ppf(0.975) * math.sqrt(at @ covariance @ at + np.median(U) ** 2)
    assert (ahead.high - ahead.value) == pytest.approx(check)


def test_weighted_equally_the_line_is_the_ordinary_one() -> None:
    even = line(weighted(DAYS, VALUES, np.full(7, 1e-4)))
    plain = line(ordinary(DAYS, VALUES))
    assert even.df == 5
    for name in ("level", "slope", "u_slope", "scatter", "p", "explained"):
        assert getattr(even, name) == pytest.approx(getattr(plain, name))


def test_points_that_scatter_more_than_they_say_widen_the_line() -> None:
    trusting = line(weighted(DAYS, VALUES, U))
    doubting = line(weighted(DAYS, VALUES, U / 10))
    assert (trusting.df, doubting.df) == (math.inf, 5)
    assert doubting.u_slope > trusting.u_slope / 10


@pytest.mark.parametrize(
    ("count", "why"), [(0, "there are 0"), (1, "there is 1"), (2, "there are 2")]
)
def test_too_few_checks_make_no_line(count: int, why: str) -> None:
    for found in (
        ordinary(DAYS[:count], VALUES[:count]),
        weighted(DAYS[:count], VALUES[:count], U[:count]),
    ):
        assert isinstance(found, Lack)
        assert found.why.endswith(why)


def test_checks_of_one_moment_make_no_line() -> None:
    found = ordinary(np.zeros(5), VALUES[:5])
    assert isinstance(found, Lack)
    assert found.why == "All checks were made at one moment"


@pytest.mark.parametrize("size", [0.0, 7e-301])
def test_a_line_without_known_uncertainties_is_not_weighted(size: float) -> None:
    found = weighted(DAYS, size * VALUES, np.zeros(7))
    assert isinstance(found, Lack)
    assert "no uncertainty" in found.why


def test_equal_figures_go_nowhere() -> None:
    flat = line(ordinary(DAYS, np.full(7, 0.3)))
    assert (flat.slope, flat.p, flat.explained, flat.is_resolved) == (0.0, 1.0, 0.0, False)
    assert flat.at(1000.0).value == 0.3


def test_the_step_of_the_display_bounds_the_scatter() -> None:
    exact = line(ordinary(DAYS, 0.01 * DAYS, floor=0.03))
    assert exact.scatter == 0.03
    assert exact.u_slope > 0
    assert line(ordinary(DAYS, 0.01 * DAYS)).p < 1e-12


@pytest.mark.parametrize(("floor", "confidence"), [(-0.1, 0.95), (math.nan, 0.95), (0.0, 1.0)])
def test_a_line_that_cannot_be_is_refused(floor: float, confidence: float) -> None:
    with pytest.raises(ValueError, match="confidence between 0 and 1"):
        ordinary(DAYS, VALUES, floor=floor, confidence=confidence)
