"""Coefficients of friction: corrections, what is shared, and what is refused."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.analysis.slickness.coefficient import (
    D2534_REPEATABILITY,
    Corrections,
    coefficient,
    from_incline,
    incline_of,
    within_precision,
)
from acquire.analysis.slickness.sled import Sled, weighed
from acquire.analysis.transmission.meter import budget_of, variable


def sled() -> Sled:
    return weighed(0.2, 0.0005)


def test_every_correction_is_on_record_whether_it_was_on_or_off() -> None:
    on = Corrections(zero_n=variable("zero", 0.012, 0.001))
    record = {c.name: c for c in coefficient(variable("peak", 0.612, 0), sled(), on).corrections}
    assert set(record) == {"gauge zero", "pull angle", "panel tilt"}
    assert record["gauge zero"].is_on
    assert record["gauge zero"].value == 0.012
    assert record["gauge zero"].effect == pytest.approx(-0.012 / 0.2 / 9.80665)
    assert not record["pull angle"].is_on
    assert record["pull angle"].effect == 0


def test_off_and_zero_give_the_same_figure_and_not_the_same_record() -> None:
    force = variable("peak", 0.6, 0.01)
    off = coefficient(force, sled())
    none = coefficient(
        force,
        sled(),
        Corrections(variable("zero", 0, 0), variable("line", 0, 0), variable("panel", 0, 0)),
    )
    assert off.mu.nominal_value == pytest.approx(none.mu.nominal_value, rel=1e-12)
    assert off.corrections != none.corrections


def test_an_uncertain_angle_of_zero_degrees_still_brings_doubt() -> None:
    tilt = variable("panel", 0, 0.5)
    found = coefficient(variable("peak", 0.6, 0), weighed(0.2), Corrections(tilt_deg=tilt))
    # d mu / d b at b = 0 is -(1), by hand: F/W - b, so u = 0.5 degrees in radian.
    assert found.mu.std_dev == pytest.approx(math.radians(0.5), rel=1e-9)


def test_the_mass_of_a_shared_sled_cancels_in_ratios_and_nearly_in_differences() -> None:
    shared = weighed(0.2, 0.002)
    a = coefficient(variable("a", 0.6, 0.003), shared).mu
    b = coefficient(variable("b", 0.61, 0.003), shared).mu
    apart = coefficient(variable("b", 0.61, 0.003), weighed(0.2, 0.002)).mu
    assert (a / b).std_dev == pytest.approx(math.hypot(0.003 / 0.6, 0.003 / 0.61) * 0.6 / 0.61)
    weight = 0.2 * 9.80665
    by_hand = math.hypot(0.003, 0.003, 0.01 * 0.01) / weight
    assert (b - a).std_dev == pytest.approx(by_hand, rel=1e-6)
    assert (apart - a).std_dev > 2 * (b - a).std_dev


def test_the_budget_has_a_line_for_force_and_mass_and_comes_to_the_whole() -> None:
    mu = coefficient(variable("peak", 0.6, 0.01), sled()).mu
    table = budget_of("static coefficient", "one", mu)
    assert [t.name for t in table.terms] == ["peak", "sled mass"]
    assert table.combined == pytest.approx(mu.std_dev)


def test_doubt_agrees_with_drawn_inputs() -> None:
    # Another road: draw force, zero, angles and mass, and compute by plain numbers.
    import numpy as np

    draw = np.random.default_rng(5)
    n = 200_000
    f, z = draw.normal(0.6, 0.01, n), draw.normal(0.02, 0.004, n)
    a, b = np.radians(draw.normal(4, 0.7, n)), np.radians(draw.normal(-2, 0.3, n))
    w = draw.normal(0.2, 0.001, n) * 9.80665
    plain = ((f - z) * np.cos(a) - w * np.sin(b)) / (w * np.cos(b) - (f - z) * np.sin(a))
    on = Corrections(variable("z", 0.02, 0.004), variable("a", 4, 0.7), variable("b", -2, 0.3))
    found = coefficient(variable("f", 0.6, 0.01), weighed(0.2, 0.001), on).mu
    assert found.nominal_value == pytest.approx(float(plain.mean()), abs=1e-4)
    assert found.std_dev == pytest.approx(float(plain.std()), rel=0.01)


@given(
    force=st.floats(0.01, 5),
    mass=st.floats(0.05, 2),
    scale=st.floats(0.1, 10),
    tilt=st.floats(-20, 20),
)
def test_twice_the_force_on_twice_the_sled_is_the_same_coefficient(
    force: float, mass: float, scale: float, tilt: float
) -> None:
    on = Corrections(tilt_deg=variable("panel", tilt, 0))
    one = coefficient(variable("f", force, 0), weighed(mass), on).mu.nominal_value
    other = coefficient(variable("f", scale * force, 0), weighed(scale * mass), on).mu
    assert other.nominal_value == pytest.approx(one, rel=1e-9, abs=1e-12)


@given(st.floats(0, 5))
def test_slope_and_coefficient_are_each_other_s_inverse(mu: float) -> None:
    slope = incline_of(variable("mu", mu, 0.01))
    assert from_incline(slope).nominal_value == pytest.approx(mu, abs=1e-12)


def test_a_line_that_lifts_the_sled_is_refused() -> None:
    with pytest.raises(ValueError, match="lifts the sled"):
        coefficient(
            variable("peak", 10, 0), sled(), Corrections(pull_angle_deg=variable("line", 30, 0))
        )


@pytest.mark.parametrize("mass", [0.0, -0.2, math.nan])
def test_a_sled_without_mass_is_refused(mass: float) -> None:
    with pytest.raises(ValueError, match="weigh the sled"):
        weighed(mass)


def test_an_over_range_force_is_refused() -> None:
    with pytest.raises(ValueError, match="finite"):
        variable("peak", math.nan, 0.01)


def test_results_exactly_on_the_limit_of_the_standard_are_within_it() -> None:
    assert within_precision(0.3, 0.36, D2534_REPEATABILITY)[1]
    assert not within_precision(0.3, 0.3601, D2534_REPEATABILITY)[1]
