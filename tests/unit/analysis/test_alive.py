"""The share alive: Turnbull's estimate, the product limit, and where each is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest

from acquire.analysis.durability.life import Life
from acquire.analysis.durability.logrank import log_rank
from acquire.analysis.durability.productlimit import product_limit, product_limit_of
from acquire.analysis.durability.turnbull import estimate_lives, interval_estimate, memberships

INF = math.inf
TREATED = [6, 6, 6, 6, 7, 9, 10, 10, 11, 13, 16, 17, 19, 20, 22, 23, 25, 32, 32, 34, 35]
FAILED = [1, 1, 1, 0, 1, 0, 1, 0, 0, 1, 1, 0, 0, 0, 1, 1, 0, 0, 0, 0, 0]
"""Freireich's 6-MP arm, weeks of remission, as shipped with lifelines."""


def test_looks_at_the_same_counts_give_the_grouped_life_table() -> None:
    found = estimate_lives([Life(0, 5), Life(5, 10), Life(5, 10), Life(10, 15), Life(20)])
    for count, share in ((5, 0.8), (10, 0.4), (15, 0.2), (20, 0.2)):  # multinomial, closed form
        assert found.beyond(count) == pytest.approx((share, share), abs=1e-9)
    assert found.median == Life(5, 10)
    assert found.median_count is None
    assert "5 lives, 4 Turnbull intervals" in found.words


def test_inside_an_interval_the_curve_has_bounds_and_no_value() -> None:
    found = estimate_lives([Life(0, 5), Life(5, 10), Life(5, 10), Life(10)])
    assert found.beyond(7) == pytest.approx((0.25, 0.75))
    assert found.beyond(0) == (1, 1)
    assert found.beyond(11) == pytest.approx((0.0, 0.25))


def test_one_life_is_its_own_estimate_and_a_censored_one_stays_at_least() -> None:
    one = estimate_lives([Life(5, 10)])
    assert [tuple(i) for i in one.intervals] == [(5, 10, 1.0, False)]
    censored = estimate_lives([Life(30), Life(40)])
    assert censored.median == Life(40)
    assert censored.beyond(40) == (1, 1)
    assert censored.log_likelihood == 0


def test_whether_ends_belong_to_intervals_matters_where_looks_share_counts() -> None:
    left, right = [0, 5], [5, 10]
    assert len(interval_estimate(left, right).intervals) == 2
    closed = interval_estimate(left, right, closed=True)
    assert [(i.low, i.high, i.mass) for i in closed.intervals] == [(5, 5, 1.0)]
    assert closed.median_count == 5
    assert closed.median is None
    assert closed.at_least(5) == (1, 1)
    assert closed.beyond(5) == (0, 0)


def test_no_other_masses_are_as_likely() -> None:
    source = np.random.default_rng(7)
    for _ in range(60):
        low = source.integers(0, 20, 25)
        high = np.where(source.random(25) < 0.3, INF, low + source.integers(1, 12, 25))
        found = interval_estimate(low.tolist(), high.tolist())
        held = memberships(found, low.tolist(), high.tolist(), closed=False)
        assert np.linalg.matrix_rank(held) == len(found.intervals)
        # The conditions of the maximum (Gentleman and Geyer 1994), computed anew.
        masses = np.array([i.mass for i in found.intervals])
        gain = held.T @ (1 / (held @ masses))
        assert gain.max() <= 25 + 1e-6
        assert masses.sum() == pytest.approx(1, abs=1e-12)
        assert found.gap <= 1e-8


@pytest.mark.parametrize(
    ("left", "right"),
    [([], []), ([1], [2, 3]), ([5], [3]), ([math.nan], [3]), ([1], [math.nan]), ([INF], [INF])],
)
def test_records_that_contradict_themselves_are_refused(
    left: list[float], right: list[float]
) -> None:
    with pytest.raises(ValueError, match=r"contradictory|at least one"):
        interval_estimate(left, right)


def test_the_product_limit_agrees_with_the_textbook() -> None:
    found = product_limit(TREATED, FAILED)  # Cox and Oakes; Kleinbaum and Klein, from memory
    assert found.counts == (6, 7, 10, 13, 16, 22, 23)
    assert found.at_risk == (21, 17, 15, 12, 11, 7, 6)
    assert found.alive == pytest.approx((0.857, 0.807, 0.753, 0.690, 0.627, 0.538, 0.448), abs=5e-4)
    assert found.se == pytest.approx((0.0764, 0.0869, 0.0963, 0.1068, 0.1141, 0.1282, 0.1346),
                                     abs=6e-5)  # fmt: skip
    assert found.median == 23
    # Log-minus-log limits at 10 weeks, closed form, as lifelines has them.
    assert found.limits()[2] == pytest.approx((0.50319951, 0.88936184), abs=1e-7)


def test_exact_lives_and_intervals_of_one_wash_give_one_curve() -> None:
    source = np.random.default_rng(2)
    for _ in range(20):
        counts, failed = source.integers(1, 12, 15), source.random(15) < 0.6
        lives = [Life(c - 1, c) if f else Life(c) for c, f in zip(counts, failed, strict=True)]
        whole, interval = product_limit_of(lives), estimate_lives(lives)
        for count in range(13):
            low, high = interval.beyond(count)
            if count <= counts.max():
                assert low == pytest.approx(high, abs=1e-9)
                assert high == pytest.approx(whole.beyond(count), abs=1e-7)


def test_splitting_ties_leaves_the_curve_behind_them_as_it_was() -> None:
    tied = product_limit([10, 10, 10, 20, 30], [1, 1, 0, 1, 0])
    split = product_limit([9.99, 10, 10, 20, 30], [1, 1, 0, 1, 0])
    assert tied.beyond(10) == pytest.approx(split.beyond(10))
    assert tied.alive[-1] == pytest.approx(split.alive[-1])


def test_lives_known_as_intervals_are_not_turned_into_counts() -> None:
    with pytest.raises(ValueError, match="1 of 2 lives are known as intervals"):
        product_limit_of([Life(5, 10), Life(30)])


def test_where_nobody_failed_there_is_no_median_and_where_all_did_no_standard_error() -> None:
    none = product_limit([30, 30], [0, 0])
    assert (none.counts, none.median, none.beyond(30), none.censored) == ((), None, 1.0, 2)
    alone = product_limit([7], [1])
    assert (alone.alive, alone.se, alone.median, alone.limits()) == ((0.0,), (None,), 7, (None,))


@pytest.mark.parametrize(("counts", "failed"), [([], []), ([1], [1, 0]), ([math.nan], [1]),
                                                ([-1], [1]), ([INF], [0])])  # fmt: skip
def test_counts_that_are_none_are_refused(counts: list[float], failed: list[int]) -> None:
    with pytest.raises(ValueError, match=r"wanted|each"):
        product_limit(counts, failed)


def test_nobody_left_to_compare_is_told_apart_from_nobody_failed() -> None:
    assert "no specimen failed" in log_rank(([30], [0]), ([30], [0])).lacking
    late = log_rank(([5], [0]), ([10, 20], [1, 1]))
    assert late.p is None
    assert "only one group" in late.lacking


def test_exchanging_the_groups_changes_no_figure_of_the_log_rank_test() -> None:
    one, other = (TREATED, FAILED), ([1, 4, 8, 12, 23], [1, 1, 1, 1, 0])
    first, second = log_rank(one, other), log_rank(other, one)
    assert first.chi2 == pytest.approx(second.chi2)
    assert first.expected == pytest.approx(second.expected[::-1])


def test_a_share_of_exactly_one_half_is_the_median_whatever_floats_make_of_it() -> None:
    # Of n specimens that fail one by one, counted by hand: the share is a half or less first at
    # the failure n/2, rounded up. Products of fractions come out above a half for n = 6, say.
    for n in range(1, 200):
        found = product_limit([float(c) for c in range(1, n + 1)], [1] * n)
        assert found.median == math.ceil(n / 2)
