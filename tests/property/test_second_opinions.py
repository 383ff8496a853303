"""What two general libraries of statistics say of random readings, and what must not matter."""

from __future__ import annotations

import math
import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from acquire.analysis.budget.reach import reach_of
from acquire.analysis.laws.studentrange import range_critical, range_p
from acquire.analysis.people.agreement import Weights, cohen_kappa, fleiss_kappa, kendall_w
from acquire.analysis.samples.anova import one_way
from acquire.verify.calcs import CALCS
from acquire.verify.calcs.textbook import Difference, Variances, all_pairs, tost, two_sample

with warnings.catch_warnings():
    # What the library itself imports may be on its way out; that is no matter of ours.
    warnings.simplefilter("ignore")
    from statsmodels.stats import inter_rater
    from statsmodels.stats.multicomp import pairwise_tukeyhsd
    from statsmodels.stats.power import TTestIndPower, TTestPower
    from statsmodels.stats.weightstats import CompareMeans, DescrStatsW, ttost_ind

steps = st.integers(0, 400).map(lambda v: v / 8)
"""Readings in eighths, so that scaling and shifting by eighths are exact."""
group = st.lists(steps, min_size=2, max_size=7)
several = st.lists(group, min_size=2, max_size=5)
quick = settings(max_examples=40, deadline=None, derandomize=True)
slow = settings(max_examples=12, deadline=None, derandomize=True)


def scatters(groups: list[list[float]]) -> bool:
    return all(len(set(g)) > 1 for g in groups)


def decides(found: Difference) -> float:
    """The half width by which results decide, of the same lines."""
    return reach_of(found.lines, found.means).half_width(0.05)


def figures(found: dict[tuple[int, int], Difference]) -> list[float]:
    return [figure for p in found.values() for figure in (p.estimate, decides(p), p.half_width())]


@given(several.filter(scatters))
@slow
def test_all_pairs_with_one_scatter_are_those_of_both_libraries(groups: list[list[float]]) -> None:
    found = all_pairs(groups, Variances.POOLED)
    theirs = stats.tukey_hsd(*groups) if len(groups) > 2 else None
    labels = np.repeat(np.arange(len(groups)), [len(g) for g in groups])
    other = pairwise_tukeyhsd(np.concatenate(groups), labels)
    for n, (both, p) in enumerate(found.items()):
        low, high = p.interval()
        assert decides(p) == pytest.approx(p.half_width(), rel=1e-9)
        # The other library counts the second less the first.
        assert other.confint[n] == pytest.approx([-high, -low], rel=2e-3, abs=1e-6)
        if theirs is not None:
            interval = theirs.confidence_interval()
            assert (low, high) == pytest.approx((interval.low[both], interval.high[both]), rel=1e-5)
            assert p.p == pytest.approx(theirs.pvalue[both], abs=1e-6)


@given(several.filter(scatters).filter(lambda g: len(g) > 2))
@slow
def test_all_pairs_with_separate_scatters_are_by_the_range_at_welchs_degrees_of_freedom(
    groups: list[list[float]],
) -> None:
    for (i, j), p in all_pairs(groups, Variances.SEPARATE).items():
        a, b = groups[i], groups[j]
        theirs = stats.ttest_ind(a, b, equal_var=False)
        q = math.sqrt(2) * abs(float(theirs.statistic))
        assert p.df == pytest.approx(float(theirs.df))
        assert p.p == pytest.approx(
            float(stats.studentized_range.sf(q, len(groups), float(theirs.df))), abs=1e-4
        )
        assert decides(p) >= p.half_width() * (1 - 1e-6)


@given(several.filter(scatters), st.integers(-800, 800), st.integers(-3, 3))
@quick
def test_another_level_or_unit_or_order_leaves_what_is_told_of_groups(
    groups: list[list[float]], shift: int, power: int
) -> None:
    k = 2.0**power
    for variances in (Variances.SEPARATE, Variances.POOLED):
        base = figures(all_pairs(groups, variances))
        moved = all_pairs([[v + shift / 8 for v in g] for g in groups], variances)
        scaled = all_pairs([[k * v for v in g] for g in groups], variances)
        turned = all_pairs([g[::-1] for g in groups], variances)
        assert figures(moved) == pytest.approx(base, rel=1e-9, abs=1e-9)
        assert figures(scaled) == pytest.approx([k * v for v in base], rel=1e-12)
        assert figures(turned) == pytest.approx(base, rel=1e-12, abs=1e-12)


@given(several.filter(scatters))
@quick
def test_analysis_of_variance_is_scipys_and_of_two_groups_the_square_of_students_t(
    groups: list[list[float]],
) -> None:
    found = one_way(groups)
    theirs = stats.f_oneway(*groups)
    assert found.f == pytest.approx(float(theirs.statistic), rel=1e-9, abs=1e-12)
    assert found.p == pytest.approx(float(theirs.pvalue), rel=1e-8)
    student = two_sample(groups[0], groups[1], Variances.POOLED)
    two = one_way(groups[:2])
    assert student.t is not None
    assert two.f == pytest.approx(student.t**2, rel=1e-9, abs=1e-12)
    assert two.p == pytest.approx(student.p)


@given(group.filter(lambda g: len(set(g)) > 1), group.filter(lambda g: len(set(g)) > 1))
@quick
def test_two_groups_and_equality_within_a_margin_are_statsmodels(
    x: list[float], y: list[float]
) -> None:
    for variances, name in ((Variances.SEPARATE, "unequal"), (Variances.POOLED, "pooled")):
        ours = two_sample(x, y, variances)
        theirs = CompareMeans(DescrStatsW(x), DescrStatsW(y))
        t, p, df = theirs.ttest_ind(usevar=name)
        assert (ours.t, ours.p, ours.df) == pytest.approx((t, p, df), rel=1e-8, abs=1e-12)
        assert ours.interval() == pytest.approx(
            theirs.tconfint_diff(usevar=name), rel=1e-7, abs=1e-9
        )
        equal = tost(ours, 2.0)
        p_both, lower, upper = ttost_ind(np.array(x), np.array(y), -2.0, 2.0, usevar=name)
        assert max(equal.p_lower, equal.p_upper) == pytest.approx(p_both, rel=1e-7, abs=1e-12)
        assert (equal.p_lower, equal.p_upper) == pytest.approx((lower[1], upper[1]), abs=1e-9)


@given(st.lists(st.tuples(steps, steps), min_size=2, max_size=8), st.integers(-80, 80))
@quick
def test_pairs_that_share_a_level_are_judged_by_their_differences_alone(
    pairs: list[tuple[float, float]], shift: int
) -> None:
    x, y = [a for a, _ in pairs], [b for _, b in pairs]
    ours = two_sample(x, y, Variances.PAIRED)
    # A level of each pair's own is on both sides and is gone, which no unpaired test does.
    level = [shift * n / 8 for n in range(len(pairs))]
    lifted = two_sample(
        [a + v for a, v in zip(x, level, strict=True)],
        [b + v for b, v in zip(y, level, strict=True)],
        Variances.PAIRED,
    )
    assert lifted == ours
    unpaired = two_sample(x, y, Variances.POOLED)
    assert ours.estimate == pytest.approx(unpaired.estimate)
    # The variance of a difference of pairs lacks twice their covariance.
    n = len(pairs)
    cross = 2 * float(np.cov(x, y)[0, 1]) / n
    assert ours.se**2 == pytest.approx(max(0.0, unpaired.se**2 - cross), abs=1e-9)


@given(st.floats(0.1, 4), st.integers(2, 40), st.sampled_from([0.01, 0.05, 0.1]))
@quick
def test_power_is_that_of_statsmodels(d: float, n: int, alpha: float) -> None:
    for groups, theirs in ((2, TTestIndPower()), (1, TTestPower())):
        sort = {"type": "one.sample"} if groups == 1 else {}
        asked = {"d": d, "n": n, "alpha": alpha, "power": 0.8}
        ours = CALCS["stats.power"]({**asked, **sort})["power"]
        power = float(theirs.power(d, n, alpha))
        if math.isnan(power):
            # Where the far tail has no figure there, the near one is all that counts.
            df, spread = groups * (n - 1), d * math.sqrt(n / groups)
            power = float(stats.nct.sf(stats.t.ppf(1 - alpha / 2, df), df, spread))
        assert ours == pytest.approx(power, abs=1e-5)
    shown = CALCS["stats.smallest_difference"](asked)["mdd_exact"]
    assert TTestIndPower().power(shown, n, alpha) == pytest.approx(0.8, abs=1e-6)


@given(st.lists(st.lists(st.integers(0, 9), min_size=3, max_size=3), min_size=3, max_size=3))
@quick
def test_kappa_is_that_of_statsmodels(table: list[list[int]]) -> None:
    if sum(map(sum, table)) == 0:
        return
    for weights, name in ((Weights.NONE, None), (Weights.LINEAR, "linear")):
        ours = cohen_kappa(table, weights)
        if ours.kappa is None:
            continue
        theirs = inter_rater.cohens_kappa(np.array(table), wt=name)
        assert ours.kappa == pytest.approx(theirs.kappa, abs=1e-9)
        # Where all agree the variance is nothing but rounding, and its root is none there.
        if theirs.var_kappa > 1e-12:
            assert ours.se == pytest.approx(theirs.std_kappa, rel=1e-6)
    swapped = cohen_kappa([list(row) for row in zip(*table, strict=True)])
    assert swapped.kappa == pytest.approx(cohen_kappa(table).kappa)


@given(st.lists(st.lists(st.integers(0, 2), min_size=5, max_size=5), min_size=3, max_size=12))
@quick
def test_agreement_of_several_raters_is_that_of_statsmodels(ratings: list[list[int]]) -> None:
    counts = [[row.count(step) for step in range(3)] for row in ratings]
    ours = fleiss_kappa(counts)
    if ours.fixed.kappa is not None:
        theirs = inter_rater.fleiss_kappa(np.array(counts), method="fleiss")
        assert ours.fixed.kappa == pytest.approx(theirs, abs=1e-9)
    assert ours.free.kappa == pytest.approx(
        inter_rater.fleiss_kappa(np.array(counts), method="randolph"), abs=1e-9
    )


@given(st.lists(st.lists(st.integers(0, 9), min_size=4, max_size=4), min_size=3, max_size=7))
@quick
def test_agreement_on_an_order_is_friedmans_test(scores: list[list[int]]) -> None:
    ours = kendall_w(scores)
    if ours.w is None:
        return
    theirs = stats.friedmanchisquare(*scores)
    assert ours.chi2 == pytest.approx(float(theirs.statistic), abs=1e-9)
    assert ours.p == pytest.approx(float(theirs.pvalue), abs=1e-9)
    assert 0 <= ours.w <= 1 + 1e-12


@given(st.integers(3, 12), st.one_of(st.floats(1.0, 60.0), st.just(math.inf)))
@quick
def test_the_range_grows_with_means_and_shrinks_with_degrees_of_freedom(
    means: int, df: float
) -> None:
    q = range_critical(means, df)
    assert range_critical(means + 1, df) > q > range_critical(means - 1, df)
    assert range_critical(means, 2 * df) <= q
    assert range_p(q, means, df) == pytest.approx(0.05, rel=1e-5)
