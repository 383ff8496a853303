"""Coefficients of friction of forces: the law, its doubt, what it refuses, what standards allow."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.analysis.slickness.precision import D2534_REPEATABILITY, within_precision
from acquire.analysis.slickness.slope import slope_of


def test_doubt_agrees_with_drawn_inputs() -> None:
    # Another road: draw force, angles and weight, and compute by plain numbers.
    draw = np.random.default_rng(5)
    n = 200_000
    force, weight = draw.normal(0.6, 0.01, n), draw.normal(2.0, 0.01, n)
    a, b = np.radians(draw.normal(4, 0.7, n)), np.radians(draw.normal(-2, 0.3, n))
    plain = (force * np.cos(a) - weight * np.sin(b)) / (weight * np.cos(b) - force * np.sin(a))
    found = slope_of(0.6, 2.0, 4.0, -2.0)
    u = math.hypot(
        found.by_force * 0.01,
        found.by_weight * 0.01 / 2.0,
        found.by_line * math.radians(0.7),
        found.by_tilt * math.radians(0.3),
    )
    assert found.mu == pytest.approx(float(plain.mean()), abs=1e-4)
    assert u == pytest.approx(float(plain.std()), rel=0.01)


@given(
    force=st.floats(0.01, 5),
    weight=st.floats(0.5, 20),
    scale=st.floats(0.1, 10),
    tilt=st.floats(-20, 20),
)
def test_twice_the_force_on_twice_the_sled_is_the_same_coefficient(
    force: float, weight: float, scale: float, tilt: float
) -> None:
    one = slope_of(force, weight, tilt_deg=tilt).mu
    other = slope_of(scale * force, scale * weight, tilt_deg=tilt).mu
    assert other == pytest.approx(one, rel=1e-9, abs=1e-12)


@given(st.floats(0, 45))
def test_a_sled_that_slides_by_itself_has_the_tangent_of_its_slope(slope_deg: float) -> None:
    # TAPPI T 815, ISO 8295 annex: the static coefficient is the tangent (from memory).
    found = slope_of(0.0, 2.0, tilt_deg=-slope_deg)
    assert found.mu == pytest.approx(math.tan(math.radians(slope_deg)), abs=1e-12)
    assert -found.by_tilt == pytest.approx(1 + found.mu**2)


def test_a_line_that_lifts_the_sled_is_refused() -> None:
    with pytest.raises(ValueError, match="lifts the sled"):
        slope_of(10.0, 2.0, line_deg=30.0)


@pytest.mark.parametrize(("force", "weight"), [(0.5, 0.0), (0.5, -2.0), (math.nan, 2.0)])
def test_a_sled_without_weight_and_a_force_out_of_range_are_refused(
    force: float, weight: float
) -> None:
    with pytest.raises(ValueError, match="a force and a weight above 0 N"):
        slope_of(force, weight)


def test_an_angle_that_is_no_test_of_slickness_is_refused() -> None:
    with pytest.raises(ValueError, match="panel tilt: -45 to 45 degrees are wanted, got 46"):
        slope_of(0.5, 2.0, tilt_deg=46.0)


def test_results_exactly_on_the_limit_of_the_standard_are_within_it() -> None:
    assert within_precision(0.3, 0.36, D2534_REPEATABILITY)[1]
    assert not within_precision(0.3, 0.3601, D2534_REPEATABILITY)[1]
