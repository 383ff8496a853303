"""Two sets of readings against one another: t tests, equivalence, exact rank test.

A textbook t test is a decision by one line of scatter: its limit and level are those of
`acquire.analysis.reach` for a budget of that line, and equality is judged by
`acquire.analysis.decision`, as in results. What results do otherwise is to keep the scatters of
both sides as lines of their own.

Never an infinite t or p = 0 from readings without scatter: t and p are None then, because the
scatter cannot decide. Differences are first minus second. Pure. Any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from acquire.analysis.decision import Finding
from acquire.analysis.reach import Reach, reach_of
from acquire.analysis.summary import Summary, summarise
from acquire.analysis.uncertainty import Distribution, Kind, Term, welch_satterthwaite


class Variances(StrEnum):
    """What is assumed of the scatter of the two sides."""

    SEPARATE = "separate"
    """Each its own: Welch's test, the default."""
    POOLED = "pooled"
    """The same: Student's test."""
    PAIRED = "paired"
    """Readings come in pairs; only the scatter of their differences counts."""


@dataclass(frozen=True, slots=True)
class Difference:
    """A difference of two means with its standard error and degrees of freedom.

    `t` and `p` (two-sided) are None where the readings have no scatter.
    """

    estimate: float
    se: float
    df: float
    variances: Variances

    @property
    def t(self) -> float | None:
        return self.estimate / self.se if self.se > 0 else None

    @property
    def p(self) -> float | None:
        return self.reach.p(abs(self.estimate)) if self.se > 0 else None

    @property
    def reach(self) -> Reach:
        """That of the one line of scatter. Raises ValueError where there is no scatter."""
        line = Term("scatter", Kind.A, self.se, self.df, 1.0, Distribution.NORMAL, "")
        return reach_of([line])

    def half_width(self, confidence: float = 0.95) -> float:
        """Half of the confidence interval, in the unit of the readings."""
        return self.reach.half_width(1 - confidence) if self.se > 0 else 0.0

    def interval(self, confidence: float = 0.95) -> tuple[float, float]:
        half = self.half_width(confidence)
        return self.estimate - half, self.estimate + half


class Equivalence(NamedTuple):
    """Two one-sided tests against a margin: `p` is the larger of the two.

    `interval` is the 1 - 2 alpha interval; it lies inside the margin exactly when p < alpha.
    """

    p_lower: float
    p_upper: float
    p: float
    interval: tuple[float, float]
    is_equivalent: bool


def two_sample(
    x: Sequence[float], y: Sequence[float], variances: Variances = Variances.SEPARATE
) -> Difference:
    """mean(x) - mean(y) by Welch's test or Student's, or of pairs.

    Raises ValueError where a side has fewer than two readings, or pairs do not match.
    """
    if variances is Variances.PAIRED:
        return _paired(x, y)
    first, second = _enough(x), _enough(y)
    (n1, s1), (n2, s2) = first, second
    estimate = math.fsum(x) / n1 - math.fsum(y) / n2
    if variances is Variances.POOLED:
        df = n1 + n2 - 2
        pooled = math.sqrt(((n1 - 1) * s1**2 + (n2 - 1) * s2**2) / df)
        return Difference(estimate, pooled * math.sqrt(1 / n1 + 1 / n2), df, variances)
    # Welch's approximate degrees of freedom are those of two contributions s/sqrt(n).
    combined = welch_satterthwaite([s1 / math.sqrt(n1), s2 / math.sqrt(n2)], [n1 - 1, n2 - 1])
    return Difference(estimate, combined.u, combined.nu, variances)


def tost(difference: Difference, margin: float, alpha: float = 0.05) -> Equivalence:
    """Whether the difference is shown to lie inside +/- `margin` (D. J. Schuirmann, 1987).

    Finding no difference is not the same as showing that there is none. Raises ValueError where
    the margin is not positive, or the readings have no scatter to judge by.
    """
    if not margin > 0:
        raise ValueError(f"a margin above zero is wanted, got {margin}")
    if difference.se == 0:
        raise ValueError("readings without scatter cannot show equivalence by themselves")
    p_lower, p_upper = (
        _beyond(difference.reach, side * difference.estimate + margin) for side in (1, -1)
    )
    half, narrow = (difference.half_width(1 - level) for level in (alpha, 2 * alpha))
    finding = Finding(difference.estimate, half, narrow, margin)
    interval = (difference.estimate - narrow, difference.estimate + narrow)
    return Equivalence(p_lower, p_upper, max(p_lower, p_upper), interval, finding.is_equality_shown)


def _beyond(reach: Reach, size: float) -> float:
    """The one-sided level at which `size` is just reached."""
    tail = reach.p(abs(size)) / 2
    return tail if size >= 0 else 1 - tail


class EffectSize(NamedTuple):
    """A difference in pooled standard deviations: Cohen's d, and Hedges' g for few readings."""

    d: float
    g: float


def effect_size(x: Sequence[float], y: Sequence[float]) -> EffectSize | None:
    """(mean(x) - mean(y)) / pooled s; g = d (1 - 3/(4 df - 1)). None without scatter."""
    pooled = two_sample(x, y, Variances.POOLED)
    if pooled.se == 0:
        return None
    d = pooled.estimate / (pooled.se / math.sqrt(1 / len(x) + 1 / len(y)))
    return EffectSize(d, d * (1 - 3 / (4 * pooled.df - 1)))


class RankTest(NamedTuple):
    """Exact rank-sum test: `arrangements` is how many ways the readings can be dealt."""

    arrangements: int
    p_one_sided: float
    p_two_sided: float


def rank_test(x: Sequence[float], y: Sequence[float]) -> RankTest:
    """Exact two-sample rank-sum test by counting, ties by mid-ranks.

    `p_one_sided` is for the direction seen. With five readings a side the least p is 2/252.
    Raises ValueError where a side is empty.
    """
    n, m = len(x), len(y)
    if n == 0 or m == 0:
        raise ValueError("readings on both sides are wanted")
    together = sorted([*x, *y])
    # Twice the mid-rank, so that ties stay whole numbers: the count below is exact.
    double_rank = {
        v: together.index(v) + 1 + len(together) - together[::-1].index(v) for v in set(together)
    }
    ranks = [double_rank[v] for v in together]
    # ways[k][s]: in how many ways k of the readings have double rank sum s.
    ways: list[dict[int, int]] = [{0: 1}] + [{} for _ in range(n)]
    for rank in ranks:
        for k in range(n, 0, -1):
            for total, count in ways[k - 1].items():
                ways[k][total + rank] = ways[k].get(total + rank, 0) + count
    seen = sum(double_rank[v] for v in x)
    arrangements = math.comb(n + m, n)
    low = sum(count for total, count in ways[n].items() if total <= seen)
    high = sum(count for total, count in ways[n].items() if total >= seen)
    one = min(low, high) / arrangements
    return RankTest(arrangements, one, min(1.0, 2 * one))


def _paired(x: Sequence[float], y: Sequence[float]) -> Difference:
    if len(x) != len(y):
        raise ValueError(f"pairs are wanted, got {len(x)} and {len(y)} readings")
    n, sd = _enough([a - b for a, b in zip(x, y, strict=True)])
    estimate = math.fsum(a - b for a, b in zip(x, y, strict=True)) / n
    return Difference(estimate, sd / math.sqrt(n), n - 1, Variances.PAIRED)


def _enough(values: Sequence[float]) -> tuple[int, float]:
    summary: Summary = summarise(values)
    if summary.sd is None:
        raise ValueError(f"at least 2 readings a side are wanted, got {summary.n}")
    return summary.n, summary.sd
