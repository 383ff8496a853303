"""The level of a pair among many means, over its whole range: against scipy and turned round."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from scipy import stats

from acquire.analysis.budget.reach import Reach, reach_of
from acquire.analysis.budget.uncertainty import Distribution, Kind, Term


def line(u: float, nu: float, *, is_common: bool = True) -> Term:
    return Term("scatter", Kind.A, u, nu, 1.0, Distribution.NORMAL, "", is_common=is_common)


@pytest.mark.parametrize("means", [3, 5, 10, 30])
@pytest.mark.parametrize("nu", [1.0, 2.0, 4.0, 9.5, 60.0, math.inf])
def test_by_one_scatter_it_is_that_of_the_studentized_range_at_any_level(
    means: int, nu: float
) -> None:
    """scipy.stats.studentized_range, from a level of nearly 1 down to 0.001."""
    reach = reach_of([line(0.2, nu)], means)
    for size in (0.05, 0.3, 0.7, 1.0, 1.3, 1.8, 2.6, 3.6, 5.0):
        theirs = float(stats.studentized_range.sf(size * math.sqrt(2), means, nu))
        found = reach.p(0.2 * size)
        assert found == pytest.approx(theirs if theirs > 1e-4 else 0.0, abs=2e-6)


def test_a_pair_that_hardly_differs_has_the_p_that_tukeys_test_has() -> None:
    """scipy.stats.tukey_hsd of five groups of two; by the normal law its 0.80 would be 0.83."""
    drawn = np.random.default_rng(3)
    printed = set()
    for _ in range(40):
        groups = drawn.normal(0, 1, (5, 2))
        theirs = stats.tukey_hsd(*groups)
        u = math.sqrt(groups.var(axis=1, ddof=1).mean())
        for i in range(5):
            for j in range(i):
                size = abs(groups[i].mean() - groups[j].mean())
                p = reach_of([line(u, 5.0)], 5).p(size)
                assert p == pytest.approx(float(theirs.pvalue[i, j]), abs=1e-6)
                printed.add(f"{p:.1f}")
    assert {"0.7", "0.8", "0.9", "1.0"} <= printed


def mixed(means: int) -> list[Reach]:
    """Budgets with several lines: known, alike, far apart, of all treatments and of a mean each."""
    return [
        reach_of([line(1.0, 2), line(0.5, math.inf)], means),
        reach_of([line(0.3, 3), line(1.0, math.inf)], means),
        reach_of([line(1.0, 4), line(0.4, 4), line(0.2, 9)], means),
        reach_of([line(1.0, 1, is_common=False), line(0.6, 1, is_common=False)], means),
        reach_of([line(0.7, 20), line(1.0, 2, is_common=False), line(0.1, math.inf)], means),
        reach_of([line(1.0, 3, is_common=False), line(0.5, 6)], means, is_paired=True),
    ]


@pytest.mark.parametrize("means", [3, 8, 30])
def test_it_is_the_level_at_which_the_limit_is_just_reached(means: int) -> None:
    for reach in mixed(means):
        for alpha in (0.999, 0.97, 0.9, 0.83, 0.8, 0.75, 0.5, 0.1, 0.05, 0.002):
            assert reach.p(reach.half_width(alpha)) == pytest.approx(alpha, rel=2e-5), reach.terms


def test_it_falls_steadily_with_the_difference() -> None:
    for reach in mixed(6):
        levels = [reach.p(float(size)) for size in np.linspace(0.0, 12.0, 121)]
        assert levels[0] == 1.0
        assert all(a >= b - 1e-6 for a, b in itertools.pairwise(levels))


def test_limits_at_the_levels_that_decide_have_the_normal_law_below_them() -> None:
    """Of few readings t is the larger one there, so what decides is what it was."""
    for means in (3, 10, 30):
        known = reach_of([line(1.0, math.inf)], means)
        for nu in (1.0, 3.0, 30.0):
            few = reach_of([line(1.0, nu)], means)
            assert all(few.half_width(a) > known.half_width(a) for a in (0.5, 0.1, 0.05, 0.01))
