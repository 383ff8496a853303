"""Groups against one another: the range by scipy, refusals, and how often the limit errs."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats
from scipy.special import ndtr

from acquire.analysis.budget.reach import reach_of
from acquire.analysis.comparisons.ordering import order_bias
from acquire.analysis.laws.studentrange import MOST, range_critical, range_p
from acquire.analysis.samples.anova import one_way
from acquire.analysis.samples.weighted import weighted_sum
from acquire.verify.calcs import CALCS
from acquire.verify.calcs.textbook import Variances, all_pairs
from tests.unit.analysis.pairs import Scenario, rates

QUIET = [90.0, 90.1, 90.2, 90.1]
RESTLESS = [90.0, 92.0, 88.0, 91.0, 89.5]


@pytest.mark.parametrize("means", [3, 5, 10])
@pytest.mark.parametrize("df", [2.0, 2.5, 4.0, 12.0, math.inf])
def test_the_limit_of_the_range_is_scipys(means: int, df: float) -> None:
    known = 1e9 if math.isinf(df) else df
    assert range_critical(means, df) == pytest.approx(
        float(stats.studentized_range.ppf(0.95, means, known)), rel=1e-6
    )
    q = 3.3
    assert range_p(q, means, df) == pytest.approx(
        float(stats.studentized_range.sf(q, means, known)), abs=1e-8
    )


@pytest.mark.parametrize(
    ("means", "df", "alpha"),
    [
        (20, 1.0, 0.01),
        (100, 1.0, 0.01),
        (20, 1.0, 0.001),
        (20, 1.0, 1e-5),
        (100, 2.0, 1e-5),
        (100, 3.0, 0.001),
        (20, 4.0, 0.01),
        (100, 4.0, 0.01),
        (100, 4.0, 1e-5),
        (100, 10.0, 1e-5),
        (100, 19.0, 0.01),
        (100, 20.0, 1e-5),
    ],
)
def test_the_limit_of_the_range_with_few_degrees_of_freedom_is_that_of_a_plain_sum(
    means: int, df: float, alpha: float
) -> None:
    """Hartley's integral over even steps of the error z and of ln s, without clever nodes."""
    q = range_critical(means, df, alpha)
    low = -20.0 if df < 1.5 else -12.0
    z, s = np.linspace(-9, 9, 1001), np.exp(np.linspace(low, math.log(9 / math.sqrt(df)) + 1, 1500))
    normal = means * stats.norm.pdf(z)
    beyond = [1 - np.trapezoid(normal * (ndtr(z) - ndtr(z - q * x)) ** (means - 1), z) for x in s]
    density = stats.chi.pdf(s * math.sqrt(df), df) * math.sqrt(df) * s
    found = np.trapezoid(density * beyond, np.log(s)) + stats.chi.cdf(s[0] * math.sqrt(df), df)
    assert found == pytest.approx(alpha, rel=1e-5)


def test_the_range_of_two_means_is_students_t() -> None:
    for df in (1.0, 3.7, 20.0, math.inf):
        t = float(stats.t.ppf(0.975, df))
        assert range_critical(2, df) == pytest.approx(math.sqrt(2) * t)
        assert range_p(math.sqrt(2) * t, 2, df) == pytest.approx(0.05)


def test_limit_and_probability_of_the_range_are_one_anothers_inverse() -> None:
    for means, df, alpha in ((3, 1.0, 0.05), (13, 2.0, 0.01), (MOST, 5.0, 0.1), (8, 3.0, 0.9)):
        q = range_critical(means, df, alpha)
        assert range_p(q, means, df) == pytest.approx(alpha, rel=1e-6)
    assert range_p(0.0, 5, 3.0) == 1.0


def test_no_range_of_one_mean_or_without_degrees_of_freedom() -> None:
    with pytest.raises(ValueError, match="2 to 100 means"):
        range_critical(1, 5.0)
    with pytest.raises(ValueError, match="must be positive"):
        range_p(3.0, 3, 0.0)
    with pytest.raises(ValueError, match="probability"):
        range_critical(3, 5.0, 1e-9)


def test_two_groups_are_compared_by_welch_and_the_decision_is_no_easier() -> None:
    (pair,) = all_pairs([QUIET, RESTLESS], Variances.SEPARATE).values()
    welch = stats.ttest_ind(QUIET, RESTLESS, equal_var=False)
    assert (pair.t, pair.df, pair.p) == pytest.approx((welch.statistic, welch.df, welch.pvalue))
    assert reach_of(pair.lines).half_width(0.05) >= pair.half_width()


def test_one_scatter_for_all_gives_tukeys_limit_itself() -> None:
    for pair in all_pairs([QUIET, RESTLESS, QUIET[:3]], Variances.POOLED).values():
        decides = reach_of(pair.lines, 3).half_width(0.05)
        assert pair.half_width() == pytest.approx(decides, rel=1e-9)


def test_what_cannot_be_judged_is_refused_with_its_reason() -> None:
    single, still = [90.0], [90.0, 90.0]
    with pytest.raises(ValueError, match="only one reading of zone 2"):
        all_pairs([QUIET, single], Variances.SEPARATE)
    with pytest.raises(ValueError, match="every side has one reading"):
        all_pairs([single, single], Variances.POOLED)
    with pytest.raises(ValueError, match="2 sides or more"):
        all_pairs([QUIET], Variances.POOLED)
    with pytest.raises(ValueError, match="not in pairs"):
        all_pairs([QUIET, QUIET], Variances.PAIRED)
    with pytest.raises(ValueError, match="finite"):
        all_pairs([QUIET, [90.0, math.nan]], Variances.SEPARATE)
    with pytest.raises(ValueError, match="no scatter"):
        CALCS["stats.tukey"]({"groups": [still, still, still], "alpha": 0.05})
    (unmoved,) = all_pairs([still, still], Variances.SEPARATE).values()
    assert (unmoved.t, unmoved.p) == (None, None)


def test_analysis_of_variance_keeps_its_digits_on_a_large_level() -> None:
    # As the NIST StRD sets SmLs: 21 readings a group, all but one a tenth off, on a large level.
    # By hand: SS within 5 x 20 x 0.01 = 1 with 100 degrees of freedom, SS between 21 x 0.1 with 4.
    groups = [
        [1e9 + base] + [1e9 + base + (0.1 if n % 2 else -0.1) for n in range(20)]
        for base in (0.4, 0.3, 0.2, 0.5, 0.6)
    ]
    found = one_way(groups)
    assert (found.ss_within, found.ss_between) == pytest.approx((1.0, 2.1), rel=1e-5)
    assert found.f == pytest.approx(52.5, rel=1e-5)


def test_analysis_of_variance_without_scatter_has_no_f() -> None:
    found = one_way([[1.0, 1.0], [2.0, 2.0]])
    assert (found.f, found.p, found.explained) == (None, None, 1.0)
    assert one_way([[1.0, 1.0], [1.0]]).explained is None
    with pytest.raises(ValueError, match="one reading"):
        one_way([[1.0], [2.0]])


def test_an_order_of_anything_but_two_sides_is_refused() -> None:
    with pytest.raises(ValueError, match="two sides"):
        order_bias("AAA", 0.1)
    assert order_bias("ABBA", 0.1) == (0.0, 0.0)


def test_errors_in_common_add_up_or_cancel_in_a_weighted_sum() -> None:
    same, opposed = [[1.0, 1.0], [1.0, 1.0]], [[1.0, -1.0], [-1.0, 1.0]]
    assert weighted_sum([80, 70], [2, 2], [1, -1], same) == pytest.approx((10.0, 0.0))
    assert weighted_sum([80, 70], [2, 2], [1, 1], same).u == pytest.approx(4.0)
    assert weighted_sum([80, 70], [2, 2], [1, 1], opposed).u == pytest.approx(0.0)
    impossible = [[1.0, 1.0, -1.0], [1.0, 1.0, 1.0], [-1.0, 1.0, 1.0]]
    with pytest.raises(ValueError, match="below zero"):
        weighted_sum([1, 1, 1], [1, 1, 1], [1, -1, 1], impossible)
    with pytest.raises(ValueError, match="as many"):
        weighted_sum([1.0], [1.0, 2.0], [1.0])


@pytest.mark.parametrize(
    "scenario",
    [
        Scenario(3, 3, 1, "alike"),
        Scenario(5, 2, 1, "graded"),
        Scenario(8, 3, 1, "graded"),
        # By the range alone 13 and 8 of 100: each mean decides the pairs with all quieter ones.
        Scenario(8, 2, 1, "steep"),
        Scenario(8, 3, 1, "steep"),
        Scenario(5, 5, 2, "one"),
    ],
    ids=str,
)
def test_alike_means_are_told_apart_in_at_most_five_of_a_hundred_trials(
    scenario: Scenario,
) -> None:
    """More of them: ``python -m tests.unit.analysis.pairs``."""
    found = rates(scenario, 8000)
    assert found["least known"][0] <= 0.05 + 3 * math.sqrt(0.05 * 0.95 / 8000)
    assert found["least known"][1] >= found["Games and Howell"][1]
    assert found["least known"][1] <= found["Bonferroni"][1]


def test_the_textbook_limits_would_err_more_often_where_readings_are_few() -> None:
    found = rates(Scenario(8, 2, 1, "graded"), 8000)
    assert found["Games and Howell"][0] > 0.1
    assert found["Tukey, pooled"][0] > 0.1
