"""Two sets of readings against one another: the size of an effect, and the exact rank test.

Second opinions beside the program's own decisions. Pure. Any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from acquire.analysis.samples.summary import summarise
from acquire.analysis.specimens.scatter import pooled_sd


class EffectSize(NamedTuple):
    """A difference in pooled standard deviations: Cohen's d, and Hedges' g for few readings."""

    d: float
    g: float


def effect_size(x: Sequence[float], y: Sequence[float]) -> EffectSize | None:
    """(mean(x) - mean(y)) / pooled s; g = d (1 - 3/(4 df - 1)). None without scatter.

    Raises ValueError where a side has fewer than two readings.
    """
    first, second = summarise(x), summarise(y)
    if first.mean is None or second.mean is None or first.sd is None or second.sd is None:
        raise ValueError(f"at least 2 readings a side are wanted, got {first.n} and {second.n}")
    pooled = pooled_sd([first.sd, second.sd], [first.n - 1, second.n - 1])
    if pooled.sd == 0:
        return None
    d = (first.mean - second.mean) / pooled.sd
    return EffectSize(d, d * (1 - 3 / (4 * pooled.nu - 1)))


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
