"""What general libraries of survival and statistics say of random lives, and what must not matter.

lifelines, statsmodels and scipy compute the same by other roads. Where they stop early or take
other conventions the test says so.
"""

from __future__ import annotations

import itertools
import math
import warnings

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import stats
from scipy.optimize import nnls

from acquire.analysis.durability.crossing import Reached, crossing_of
from acquire.analysis.durability.decay import decay_fit
from acquire.analysis.durability.demonstration import failures_seen
from acquire.analysis.durability.life import Life, Relation, life_of, relation
from acquire.analysis.durability.logrank import log_rank
from acquire.analysis.durability.nonnegative import nonnegative_least_squares
from acquire.analysis.durability.outliving import compare_lives, holm, lives_test
from acquire.analysis.durability.productlimit import product_limit
from acquire.analysis.durability.trend import trend
from acquire.analysis.durability.turnbull import estimate_lives, interval_estimate

with warnings.catch_warnings():
    # What the libraries themselves import may be on its way out; that is no matter of ours.
    warnings.simplefilter("ignore")
    from lifelines import KaplanMeierFitter
    from lifelines.fitters.npmle import npmle
    from lifelines.statistics import logrank_test
    from statsmodels.duration.survfunc import SurvfuncRight
    from statsmodels.stats.multitest import multipletests
    from statsmodels.stats.proportion import proportion_confint

records = st.lists(st.tuples(st.integers(1, 30), st.booleans()), min_size=1, max_size=25)
interval = st.builds(
    lambda low, width: Life(low, low + width if width else math.inf),
    st.integers(0, 25),
    st.integers(0, 12),
)
lives = st.lists(interval, min_size=1, max_size=15)
quick = settings(max_examples=60, deadline=None, derandomize=True)
slow = settings(max_examples=15, deadline=None, derandomize=True)


def split(found: list[tuple[int, bool]]) -> tuple[list[int], list[bool]]:
    return [c for c, _ in found], [f for _, f in found]


@given(records)
@quick
def test_three_libraries_have_the_same_product_limit(found: list[tuple[int, bool]]) -> None:
    counts, failed = split(found)
    assume(any(failed))
    ours = product_limit(counts, failed)
    theirs = KaplanMeierFitter().fit(counts, failed)
    assert [theirs.predict(c) for c in ours.counts] == pytest.approx(ours.alive)
    median = theirs.median_survival_time_
    # At one half to the last bit, which side a product falls on is rounding.
    assume(all(abs(s - 0.5) > 1e-12 for s in ours.alive))
    assert (math.inf if ours.median is None else ours.median) == median

    other = SurvfuncRight(counts, np.array(failed, dtype=int))
    assert other.surv_prob == pytest.approx(ours.alive)
    se = [e for e in ours.se if e is not None]
    assert other.surv_prob_se[: len(se)] == pytest.approx(se)

    one = [c for c, f in found if f]
    censored = stats.CensoredData(uncensored=one, right=[c for c, f in found if not f])
    curve = stats.ecdf(censored).sf
    assert curve.evaluate(np.array(ours.counts)) == pytest.approx(ours.alive)


@given(records, records)
@quick
def test_two_libraries_have_the_same_log_rank_test(
    first: list[tuple[int, bool]], second: list[tuple[int, bool]]
) -> None:
    one, other = split(first), split(second)
    ours = log_rank(one, other)
    assume(ours.chi2 is not None)
    theirs = logrank_test(one[0], other[0], one[1], other[1])
    assert theirs.test_statistic == pytest.approx(ours.chi2, abs=1e-12)
    assert theirs.p_value == pytest.approx(ours.p)
    x, y = (
        stats.CensoredData(uncensored=[c for c, f in g if f], right=[c for c, f in g if not f])
        for g in (first, second)
    )
    assert stats.logrank(x, y).statistic ** 2 == pytest.approx(ours.chi2, abs=1e-12)


@given(lives)
@slow
def test_a_library_finds_no_likelier_masses(found: list[Life]) -> None:
    low, high = [float(x.low) for x in found], [x.high for x in found]
    ours = interval_estimate(low, high, closed=True)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        masses, places = npmle(low, high, verbose=False, tol=1e-8)
    bearing = {(float(p.left), float(p.right)): m for p, m in zip(places, masses, strict=True)}
    theirs = sum(
        math.log(max(1e-300, sum(m for (a, b), m in bearing.items() if x.low <= a and b <= x.high)))
        for x in found
    )
    assert ours.log_likelihood >= theirs - 1e-7
    assert {(i.low, i.high) for i in ours.bearing} <= set(bearing)


@given(lives)
@quick
def test_shares_sum_to_one_and_the_curve_falls(found: list[Life]) -> None:
    estimate = estimate_lives(found)
    assert sum(i.mass for i in estimate.intervals) == pytest.approx(1, abs=1e-9)
    curve = [estimate.beyond(c) for c in range(45)]
    for (low, high), (later_low, later_high) in itertools.pairwise(curve):
        assert 0 <= low <= high <= 1
        assert later_low <= low + 1e-9
        assert later_high <= high + 1e-9
    assert estimate.median is not None


@given(lives, st.randoms(use_true_random=False), st.sampled_from([0.5, 3, 1000]))
@quick
def test_order_repeats_and_the_unit_of_counts_leave_the_estimate_alone(
    found: list[Life], source: object, factor: float
) -> None:
    one = estimate_lives(found)
    mixed = sorted(found, key=lambda x: (x.high, -x.low))
    assert [i.mass for i in estimate_lives(mixed).intervals] == pytest.approx(
        [i.mass for i in one.intervals], abs=1e-6
    )
    twice = estimate_lives([*found, *found])
    assert [i.mass for i in twice.intervals] == pytest.approx(
        [i.mass for i in one.intervals], abs=1e-6
    )
    scaled = estimate_lives([Life(x.low * factor, x.high * factor) for x in found])
    assert [i.low for i in scaled.intervals] == [i.low * factor for i in one.intervals]
    assert [i.mass for i in scaled.intervals] == pytest.approx(
        [i.mass for i in one.intervals], abs=1e-6
    )


@given(st.lists(lives, min_size=2, max_size=3))
@slow
def test_exchanging_treatments_exchanges_what_is_said_and_nothing_else(
    groups: list[list[Life]],
) -> None:
    named = {str(i): g for i, g in enumerate(groups)}
    forth = {frozenset((p.first, p.second)): p for p in compare_lives(named).pairs}
    turned = dict(reversed(named.items()))
    for pair in compare_lives(turned).pairs:
        other = forth[frozenset((pair.first, pair.second))]
        assert pair.p == pytest.approx(other.p)
        if pair.found is not Relation.NOT_SHOWN:
            assert {pair.found, other.found} == {Relation.OUTLIVED, Relation.OUTLIVED_BY}
        assert "nan" not in pair.sentence
        assert pair.sentence.endswith(".")


@given(st.lists(interval, min_size=2, max_size=8), st.lists(interval, min_size=2, max_size=8))
@slow
def test_the_sums_of_scores_cancel_and_chances_are_chances(
    one: list[Life], other: list[Life]
) -> None:
    found = lives_test([one, other])
    assert sum(found.sums) == pytest.approx(0, abs=1e-9)
    if found.chance is not None:
        assert 0 < found.chance.smallest <= found.chance.p <= 1
    else:
        assert found.lacking


@given(st.lists(st.tuples(st.integers(0, 40), st.booleans()), max_size=12))
@quick
def test_any_looks_give_a_life_or_a_reason(looks: list[tuple[int, bool]]) -> None:
    assume(len({c for c, _ in looks}) == len(set(looks)))
    found = life_of(looks)
    assert (found.life is None) == bool(found.lacking)
    if found.life is not None:
        # Every look up to the first failure fits the life.
        assert all(passed for c, passed in looks if c <= found.life.low and c > 0)
        assert relation(found.life, found.life) is Relation.NOT_SHOWN


@given(st.lists(st.floats(0, 1), min_size=1, max_size=9))
@slow  # a fifth of a second of the library a time
def test_a_library_adjusts_as_holm(ps: list[float]) -> None:
    theirs = multipletests(ps, method="holm")[1]
    ours = holm(dict(enumerate(ps)))
    assert [ours[i] for i in range(len(ps))] == pytest.approx(list(theirs))


@given(st.integers(1, 60), st.integers(0, 60))
@quick
def test_a_library_has_the_same_limits_of_failures(n: int, failures: int) -> None:
    assume(failures <= n)
    theirs = proportion_confint(failures, n, alpha=0.05, method="beta")
    assert failures_seen(n, failures).two_sided == pytest.approx(theirs, abs=1e-9)


@given(st.permutations(range(9)), st.integers(2, 9))
@quick
def test_a_library_counts_the_same_chances_of_a_trend(order: list[int], n: int) -> None:
    values = order[:n]
    found = trend([(range(n), values)])
    for alternative, p in (("less", found.p_fall), ("greater", found.p_rise)):
        theirs = stats.kendalltau(range(n), values, method="exact", alternative=alternative)
        assert p == pytest.approx(theirs.pvalue)
    assert found.tau == pytest.approx(theirs.statistic)


@given(st.integers(1, 12), st.integers(1, 10), st.integers(0, 10**6))
@quick
def test_a_library_finds_no_nearer_coefficients(rows: int, columns: int, seed: int) -> None:
    source = np.random.default_rng(seed)
    design, target = source.normal(size=(rows, columns)), source.normal(size=rows)
    ours = nonnegative_least_squares(design, target)
    assert (ours >= 0).all()
    assert np.linalg.norm(design @ ours - target) == pytest.approx(
        nnls(design, target)[1], abs=1e-9
    )


values = st.lists(st.integers(0, 80).map(lambda v: v / 4), min_size=1, max_size=7)


@given(values, st.integers(0, 80).map(lambda v: v / 4), st.sampled_from([0.0, 0.3, 4.0]))
@quick
def test_any_course_has_a_crossing_inside_its_interval_or_says_what_it_has(
    course: list[float], threshold: float, u: float
) -> None:
    counts = [5 * i for i in range(len(course))]
    found = crossing_of(counts, course, threshold, us=[u] * len(course))
    assert "nan" not in found.words
    if found.count is not None:
        assert found.between is not None
        assert found.between.low <= found.count <= found.between.high
        assert found.low <= found.count + 1e-9
        assert found.high is None or found.count <= found.high + 1e-9
    if found.reached is Reached.NOT_REACHED:
        assert min(course) >= threshold
        assert found.low <= counts[-1]


@given(
    st.lists(st.tuples(st.integers(0, 12), st.integers(0, 40)), max_size=8),
    st.lists(st.integers(0, 40).map(float), max_size=3),
)
@quick
def test_any_readings_give_a_half_life_or_a_reason(
    readings: list[tuple[int, int]], bare: list[float]
) -> None:
    found = decay_fit([c for c, _ in readings], [float(v) for _, v in readings], bare=bare)
    assert "nan" not in found.words
    for figure in (found.start, found.end, found.half_life, found.low, found.high, found.sd):
        assert figure is None or math.isfinite(figure)
    if found.is_resolved:
        assert found.low is not None
        assert found.high is not None
        assert found.half_life is not None
        assert 0 < found.low <= found.half_life <= found.high
