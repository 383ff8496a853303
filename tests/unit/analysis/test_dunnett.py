"""Dunnett's limits and p-values against scipy.stats, closed forms and bounds."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import integrate, stats

from acquire.analysis.laws import dunnett
from acquire.analysis.laws.student import t_factor, t_quantile

EQUAL = math.sqrt(0.5)


@pytest.mark.parametrize("df", [1, 2.5, 16, 300, math.inf])
def test_one_treatment_is_students_t(df: float) -> None:
    assert dunnett.critical((EQUAL,), df) == t_factor(df)
    assert dunnett.critical((EQUAL,), df, two_sided=False) == t_quantile(0.95, df)


@pytest.mark.parametrize("k", [2, 3, 10])
def test_independent_comparisons_with_known_scatter_have_a_closed_form(k: int) -> None:
    # Sidak: each at 1 - (1 - alpha)^(1/k).
    each = (1 - (1 - 0.05) ** (1 / k)) / 2
    assert dunnett.critical((0.0,) * k, math.inf) == pytest.approx(
        float(stats.norm.isf(each)), rel=1e-8
    )


@pytest.mark.parametrize(("rho", "df"), [(0.5, 5), (0.5, 20), (0.8, 8), (0.2, 3)])
def test_two_comparisons_agree_with_the_density_of_the_bivariate_t_law(rho: float, df: int) -> None:
    def density(y: float, x: float) -> float:
        square = (x * x - 2 * rho * x * y + y * y) / (df * (1 - rho * rho))
        return (1 + square) ** (-(df + 2) / 2) / (2 * math.pi * math.sqrt(1 - rho * rho))

    for c in (1.5, 2.5, 4.0):
        inside, _ = integrate.dblquad(density, -c, c, -c, c, epsabs=1e-9)
        got = dunnett.p_value(c, (math.sqrt(rho),) * 2, df)
        assert got == pytest.approx(1 - inside, abs=1e-7)


def test_p_values_agree_with_scipys_dunnett_on_unequal_groups() -> None:
    draw = np.random.default_rng(11)
    control = draw.normal(90, 1, 9)
    groups = [draw.normal(90 + shift, 1, n) for shift, n in ((0.3, 4), (1.2, 6), (2.5, 3))]
    ours = stats.dunnett(*groups, control=control, rng=np.random.default_rng(3))
    nu = sum(len(g) - 1 for g in (control, *groups))
    lambdas = dunnett.loadings([1 / len(g) for g in groups], 1 / len(control))
    for t, p in zip(ours.statistic, ours.pvalue, strict=True):
        assert dunnett.p_value(float(t), lambdas, nu) == pytest.approx(float(p), abs=1e-3)


@pytest.mark.parametrize("value", [0.0, 0.3, EQUAL, 0.9, 0.97, 0.999, 1.0])
@pytest.mark.parametrize("df", [1, 1.7, 4, 30, math.inf])
def test_the_limit_lies_between_one_comparison_and_bonferroni(value: float, df: float) -> None:
    for k in (2, 5, 12):
        limit = dunnett.critical((value,) * k, df)
        assert t_factor(df) * (1 - 1e-3) <= limit <= t_quantile(1 - 0.025 / k, df) * (1 + 1e-3)
        assert limit >= dunnett.critical((value,) * (k - 1), df) * (1 - 1e-4)


def test_the_p_value_at_the_limit_is_the_level() -> None:
    for df in (2, 7.3, 50):
        lambdas = (0.6, 0.7, 0.8)
        limit = dunnett.critical(lambdas, df)
        assert dunnett.p_value(limit, lambdas, df) == pytest.approx(0.05, abs=1e-8)
        assert dunnett.p_value(-limit, lambdas, df) == pytest.approx(0.05, abs=1e-8)


def test_a_difference_of_nothing_is_certain_and_an_endless_one_impossible() -> None:
    assert dunnett.p_value(0.0, (0.5, 0.5), 8) == pytest.approx(1.0)
    assert dunnett.p_value(math.inf, (0.5, 0.5), 8) == pytest.approx(0.0, abs=1e-12)


def test_a_control_without_error_correlates_nothing() -> None:
    assert dunnett.loadings([0.1, 0.2], 0.0) == (0.0, 0.0)
    assert dunnett.loadings([0.0], 0.3) == (1.0,)


def test_no_comparison_has_no_limit() -> None:
    with pytest.raises(ValueError, match="no comparison"):
        dunnett.critical((), 5)


def test_the_same_question_gives_the_same_digits() -> None:
    lambdas = (0.61, 0.7, 0.55)
    first = dunnett.critical(lambdas, 13.7)
    dunnett.critical.cache_clear()
    assert dunnett.critical(lambdas, 13.7) == first
