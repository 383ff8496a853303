"""Student's t and the root finder beneath, against scipy.stats and closed forms."""

from __future__ import annotations

import math

import pytest
from scipy import stats

from acquire.analysis.laws.root import crossing
from acquire.analysis.laws.student import t_factor, t_quantile, t_tail, two_sided_p


@pytest.mark.parametrize("df", [1, 1.5, 3, 7.25, 40, 1e4, 1e7, 1e12, math.inf])
def test_quantiles_and_tails_agree_with_another_road(df: float) -> None:
    law = stats.norm if math.isinf(df) else stats.t(df)
    for p in (0.6, 0.95, 0.975, 0.9995):
        assert t_quantile(p, df) == pytest.approx(float(law.ppf(p)), rel=1e-7)
    for t in (-2.0, 0.0, 1.0, 6.0):
        assert t_tail(t, df) == pytest.approx(float(law.sf(t)), rel=1e-6)


def test_one_degree_of_freedom_has_a_closed_form() -> None:
    # Cauchy's law: quantile tan(pi (p - 1/2)).
    assert t_quantile(0.975, 1) == pytest.approx(math.tan(math.pi * 0.475))


@pytest.mark.parametrize(
    ("nu", "t95"), [(2, 4.30), (3, 3.18), (4, 2.78), (5, 2.57), (16, 2.12), (20, 2.09), (50, 2.01)]
)
def test_factors_are_those_of_the_guide(nu: float, t95: float) -> None:
    # JCGM 100:2008, table G.2, column 95 %; from memory.
    assert t_factor(nu) == pytest.approx(t95, abs=0.005)


@pytest.mark.parametrize("df", [0.0, -1.0, math.nan])
def test_no_degrees_of_freedom_are_refused(df: float) -> None:
    for act in (lambda: t_factor(df), lambda: t_tail(1.0, df), lambda: two_sided_p(1.0, df)):
        with pytest.raises(ValueError, match="positive"):
            act()


@pytest.mark.parametrize("p", [0.0, 1.0, math.nan])
def test_a_quantile_wants_a_probability(p: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        t_quantile(p, 5)


def test_far_out_nothing_is_left() -> None:
    assert two_sided_p(math.inf, 3) == 0.0
    assert two_sided_p(0.0, 3) == 1.0


def test_a_crossing_is_found_from_far_away() -> None:
    assert crossing(math.tanh, -50.0, 1e9) == pytest.approx(0.0, abs=1e-9)
    assert crossing(lambda x: math.exp(x) - 5, 0, 700) == pytest.approx(math.log(5))
    assert crossing(lambda x: -1.0 if x < 2 else 1.0, 0, 10) == pytest.approx(2.0)


def test_a_bound_that_is_the_crossing_is_the_answer() -> None:
    assert crossing(lambda x: x, 0.0, 1.0) == 0.0
    assert crossing(lambda x: x - 1, 0.0, 1.0) == 1.0


def test_bounds_without_a_crossing_are_refused() -> None:
    with pytest.raises(ValueError, match="no crossing"):
        crossing(lambda x: x * x + 1, -1, 1)
