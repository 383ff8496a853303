"""How often a true difference is shown: against drawing at random, scipy's noncentral t, and z."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from acquire.analysis.budget.reach import reach_of, shared_level
from acquire.analysis.budget.uncertainty import Distribution, Kind, Term, rectangular
from acquire.analysis.laws.limitlaw import Line, limit_law
from acquire.analysis.laws.quadrature import RUNS, joint_squares
from acquire.analysis.plans.planning import net_change_seen, pair_seen

RUNS_DRAWN = 200_000
SD = 0.2


def line(u: float, nu: float) -> Term:
    return Term("scatter", Kind.A, u, nu, 1.0, Distribution.NORMAL, "")


def drawn(delta: float, us: list[float], nus: list[float], limits: list[float], z: float) -> float:
    """How often `delta` is shown by runs that estimate every line anew and take the largest."""
    draw = np.random.default_rng(17)
    u, nu = np.array(us)[:, None], np.array(nus)
    scatter = draw.chisquare(nu, (RUNS_DRAWN, nu.size)).T / nu[:, None]
    found = u**2 * scatter
    excess = (np.array(limits)[:, None] ** 2 - z * z) * found
    half = np.sqrt(z * z * found.sum(axis=0) + excess.max(axis=0))
    seen = delta + math.hypot(*us) * draw.standard_normal(RUNS_DRAWN)
    return float(np.mean(np.abs(seen) > half))


def two_sided(alpha: float, nu: float) -> float:
    return float(stats.t.isf(alpha / 2, nu))


@pytest.mark.parametrize(
    ("n", "treatments"), [(2, 1), (2, 5), (3, 1), (3, 5), (5, 1), (5, 5), (10, 5), (20, 5)]
)
def test_a_planned_net_change_is_shown_in_80_of_100_runs(n: int, treatments: int) -> None:
    seen = net_change_seen(SD, n, treatments=treatments)
    assert seen is not None
    alpha, nu = shared_level(0.05, treatments), n - 1.0
    z, t = float(stats.norm.isf(alpha / 2)), two_sided(alpha, nu)
    power = drawn(seen, [SD / math.sqrt(n)] * 4, [nu] * 4, [t] * 4, z)
    assert power == pytest.approx(0.8, abs=0.005)


@pytest.mark.parametrize(("n", "treatments"), [(3, 5), (5, 3)])
def test_a_planned_difference_of_a_pair_is_shown_in_80_of_100_runs(n: int, treatments: int) -> None:
    seen = pair_seen(SD, n, treatments=treatments)
    assert seen is not None
    q = stats.studentized_range
    z, t = (float(q.isf(0.05, treatments, nu)) / math.sqrt(2) for nu in (1e6, n - 1.0))
    # Few readings: no less than Student's limit for all treatments but one.
    t = max(t, two_sided(shared_level(0.05, treatments - 1), n - 1.0))
    power = drawn(seen, [SD / math.sqrt(n)] * 4, [n - 1.0] * 4, [t] * 4, z)
    assert power == pytest.approx(0.8, abs=0.005)


@pytest.mark.parametrize(
    ("us", "nus"),
    [
        ([0.3, 0.2, 0.1], [2.0, 4.0, 1.0]),
        ([0.1, 0.3], [1.0, 9.0]),
        ([0.1] * 12, [2.0] * 12),
        ([0.5, 0.3, 0.3, 0.2, 0.2, 0.1, 0.1, 0.1], [2.0, 3.5, 4.0, 1.0, 2.0, 7.0, 2.0, 3.0]),
    ],
)
def test_lines_unlike_one_another_are_taken_together(us: list[float], nus: list[float]) -> None:
    reach = reach_of([line(u, nu) for u, nu in zip(us, nus, strict=True)])
    limits = [two_sided(0.05, nu) for nu in nus]
    for wanted in (0.3, 0.8, 0.95):
        delta = reach.smallest(0.05, wanted)
        z = float(stats.norm.isf(0.025))
        assert drawn(delta, us, nus, limits, z) == pytest.approx(wanted, abs=0.005)
        assert reach.power(delta, 0.05) == pytest.approx(wanted, abs=1e-9)


def test_a_known_line_beside_estimated_ones_does_not_vary() -> None:
    step = rectangular("display", 0.1, "")
    reach = reach_of([line(0.05, 2), line(0.05, 2), step])
    draw = np.random.default_rng(3)
    found = 0.05**2 * draw.chisquare(2, (2, RUNS_DRAWN)) / 2
    z, t = float(stats.norm.isf(0.025)), two_sided(0.05, 2)
    half = np.sqrt(z * z * (found.sum(0) + step.u**2) + (t * t - z * z) * found.max(0))
    seen = reach.smallest(0.05, 0.8) + reach.u * draw.standard_normal(RUNS_DRAWN)
    assert float(np.mean(np.abs(seen) > half)) == pytest.approx(0.8, abs=0.005)


@pytest.mark.parametrize("nu", [1.0, 2.0, 4.5, 30.0])
def test_a_single_line_is_the_noncentral_t_law(nu: float) -> None:
    t = two_sided(0.01, nu)
    reach = reach_of([line(SD, nu)])
    for delta in (1.0, 4.0):
        law = stats.nct(nu, delta)
        wanted = float(law.sf(t) + law.cdf(-t))
        assert reach.power(delta * SD, 0.01) == pytest.approx(wanted, abs=2e-5)


def test_lines_of_many_degrees_of_freedom_come_to_the_normal_law() -> None:
    known = reach_of([line(0.1, math.inf)] * 4).smallest(0.05, 0.8)
    # 1.960 + 0.842 standard uncertainties (normal tables, from memory).
    assert known == pytest.approx(2.8016 * 0.2, rel=1e-4)
    for nu, near in ((1e3, 3e-3), (1e5, 1e-4), (1e7, 1e-6)):
        assert reach_of([line(0.1, nu)] * 4).smallest(0.05, 0.8) == pytest.approx(known, rel=near)


def test_without_a_difference_as_many_runs_err_as_drawing_says() -> None:
    reach = reach_of([line(0.1, 2)] * 4)
    t, z = two_sided(0.05, 2), float(stats.norm.isf(0.025))
    wanted = drawn(0.0, [0.1] * 4, [2.0] * 4, [t] * 4, z)
    assert reach.power(0.0, 0.05) == pytest.approx(wanted, abs=0.002)


def test_the_order_and_the_unit_of_the_lines_do_not_matter() -> None:
    few, many = Line(2.0, 0.3, 14.7), Line(9.0, 0.7, 1.3)
    assert limit_law(3.84, [few, many]) is limit_law(3.84, [many, few])
    one, other = (
        reach_of([line(k * 0.3, 2), line(k * 0.1, 5)]).smallest(0.05, 0.8) / k for k in (1.0, 1e-3)
    )
    assert one == pytest.approx(other, rel=1e-6)


@pytest.mark.parametrize("nu", [1.0, 2.5, 12.0])
def test_the_points_have_the_mean_and_spread_of_chi_squared(nu: float) -> None:
    lines = np.array([joint_squares(nu, k) for k in range(12)])
    assert lines.shape == (12, RUNS)
    assert np.isfinite(lines).all()
    assert lines.mean(axis=1) == pytest.approx(1.0, abs=0.01)
    assert lines.var(axis=1) == pytest.approx(2 / nu, rel=0.06)
    related = np.corrcoef(lines) - np.eye(12)
    assert np.abs(related).max() < 0.1
    with pytest.raises(ValueError, match="positive"):
        joint_squares(0.0, 0)
