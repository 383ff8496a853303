"""Two sets of readings: t tests, equivalence and exact ranks against scipy.stats."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from acquire.analysis.comparisons import pair
from acquire.verify.calcs.textbook import Variances, tost, two_sample


def sides(seed: int, n: int, m: int) -> tuple[list[float], list[float]]:
    draw = np.random.default_rng(seed)
    return list(map(float, draw.normal(90, 1, n))), list(map(float, draw.normal(90.7, 3, m)))


@pytest.mark.parametrize("seed", range(5))
def test_t_tests_agree_with_scipy(seed: int) -> None:
    x, y = sides(seed, 5, 7)
    for variances, equal in ((Variances.SEPARATE, False), (Variances.POOLED, True)):
        ours, theirs = two_sample(x, y, variances), stats.ttest_ind(x, y, equal_var=equal)
        assert ours.t == pytest.approx(float(theirs.statistic))
        assert ours.p == pytest.approx(float(theirs.pvalue))
        assert ours.df == pytest.approx(float(theirs.df))
        low, high = theirs.confidence_interval(0.95)
        assert ours.interval() == pytest.approx((float(low), float(high)))
    ours, theirs = two_sample(x, y[:5], Variances.PAIRED), stats.ttest_rel(x, y[:5])
    assert (ours.t, ours.p) == pytest.approx((float(theirs.statistic), float(theirs.pvalue)))


def test_readings_without_scatter_decide_nothing() -> None:
    same = two_sample([5.0] * 5, [5.1] * 5)
    assert same.estimate == pytest.approx(-0.1)
    assert (same.se, same.t, same.p) == (0.0, None, None)
    assert pair.effect_size([5.0] * 5, [5.1] * 5) is None
    with pytest.raises(ValueError, match="without scatter"):
        tost(same, 0.5)


def test_one_reading_a_side_is_too_few() -> None:
    for variances in Variances:
        with pytest.raises(ValueError, match="one reading"):
            two_sample([1.0], [2.0], variances)
    with pytest.raises(ValueError, match="at least 2 readings a side"):
        pair.effect_size([1.0, 2.0], [2.0])


def test_pairs_must_match() -> None:
    with pytest.raises(ValueError, match="pairs are wanted, got 3 and 2"):
        two_sample([1.0, 2.0, 3.0], [1.0, 2.0], Variances.PAIRED)


@pytest.mark.parametrize("margin", [0.0, -1.0])
def test_equivalence_wants_a_margin(margin: float) -> None:
    x, y = sides(0, 5, 5)
    with pytest.raises(ValueError, match="above zero"):
        tost(two_sample(x, y), margin)


@pytest.mark.parametrize("seed", range(8))
def test_equality_is_shown_exactly_when_the_90_percent_interval_is_inside(seed: int) -> None:
    x, y = sides(seed, 6, 6)
    difference = two_sample(x, y)
    for margin in (0.5, 1.5, 3.0, 6.0):
        test = tost(difference, margin)
        low, high = test.interval
        assert test.is_equivalent == (-margin < low and high < margin)


@pytest.mark.parametrize("seed", range(5))
def test_exact_ranks_agree_with_scipy(seed: int) -> None:
    x, y = sides(seed, 5, 6)
    ours = pair.rank_test(x, y)
    theirs = stats.mannwhitneyu(x, y, method="exact")
    assert ours.p_two_sided == pytest.approx(float(theirs.pvalue))
    assert ours.arrangements == 462


def test_ties_share_their_ranks_and_equal_sides_prove_nothing() -> None:
    assert pair.rank_test([1.0, 1.0, 1.0], [1.0, 1.0]).p_two_sided == 1.0
    # By hand: of the 6 ways to deal {1, 2, 2, 3} two and two, {1, 2} comes twice and has the
    # least rank sum, so p is 2/6 one-sided.
    assert pair.rank_test([1.0, 2.0], [2.0, 3.0]).p_one_sided == pytest.approx(2 / 6)
    with pytest.raises(ValueError, match="both sides"):
        pair.rank_test([], [1.0])
