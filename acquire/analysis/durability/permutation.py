"""How often chance alone would part scores among groups as far as was seen.

If treatments did not differ, every way to give the scores to the groups would be as likely. Two
groups: all ways are counted, equal scores together, while there are not too many. Otherwise, and
for several groups where there are too many, ways are drawn from a fixed start, so that the same
lives always give the same figure; the ways drawn count themselves, so that p is never too small (B.
Phipson and G. K. Smyth, Stat. Appl. Genet. Mol. Biol. 9 (2010) 39, from memory). The statistic is
the sum over groups of (sum of scores)^2 / size. Pure; any thread.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from acquire.analysis.durability.nonnegative import Floats

MOST_STATES = 400_000
MOST_WAYS = 20_000
DRAWS = 19_999
_SEED = 1
_CHUNK = 2_000


class Chance(NamedTuple):
    """`p` of parting the groups at least so far; `smallest` the p of the farthest parting.

    `smallest` above the level of a test means that these numbers of specimens cannot show anything.
    `exact` tells whether all ways were counted; of drawn ones `smallest` is a bound from above.
    """

    p: float
    smallest: float
    exact: bool


def chance_of(groups: Sequence[Floats]) -> Chance:
    """The chance for groups of scores, in any order. ValueError for fewer than two, or empty."""
    if len(groups) < 2 or any(g.size == 0 for g in groups):
        raise ValueError("two or more groups with scores are wanted")
    pool = _levelled(np.concatenate(groups))
    pool = pool - pool.mean()
    places = np.cumsum([0, *(g.size for g in groups)])
    seen = sum(
        float(pool[a:b].sum()) ** 2 / (b - a) for a, b in itertools.pairwise(places.tolist())
    )
    sizes = sorted(g.size for g in groups)
    scale = 1e-9 * max(float((pool**2).sum()), 1e-300)
    counted = _two(pool, sizes) if len(sizes) == 2 else _several(pool, sizes)
    if counted is not None:
        values, weights = counted
        total = float(weights.sum())
        farthest = float(weights[values >= values.max() - scale].sum()) / total
        return Chance(float(weights[values >= seen - scale].sum()) / total, farthest, True)
    as_far, farthest_seen, most = 0, 0, -1.0
    for values in _drawn(pool, sizes):
        as_far += int((values >= seen - scale).sum())
        top = float(values.max())
        farthest_seen = farthest_seen if top <= most + scale else 0
        most = max(most, top)
        farthest_seen += int((values >= most - scale).sum())
    return Chance((1 + as_far) / (1 + DRAWS), (1 + farthest_seen) / (1 + DRAWS), False)


def _levelled(pool: Floats) -> Floats:
    """Scores that rounding alone tells apart become equal, so that ties are counted as ties."""
    order = np.argsort(pool, kind="stable")
    found = pool[order].copy()
    width = 1e-7 * max(1e-300, float(np.abs(pool).max()))
    for i in range(1, found.size):
        if found[i] - found[i - 1] <= width:
            found[i] = found[i - 1]
    result = np.empty_like(found)
    result[order] = found
    return result


def _two(pool: Floats, sizes: Sequence[int]) -> tuple[Floats, Floats] | None:
    """The statistic of every way to fill the smaller group, and how many ways give it."""
    small, n = sizes[0], pool.size
    taken, sums, ways = np.zeros(1, dtype=int), np.zeros(1), np.ones(1)
    left = n
    for level, many in sorted(Counter(pool.tolist()).items()):
        left -= many
        k = np.arange(many + 1)
        if taken.size * k.size > 4 * MOST_STATES:
            return None
        each = np.array([float(math.comb(many, int(i))) for i in k])
        taken, sums, ways = (
            (taken[:, None] + k).ravel(),
            (sums[:, None] + level * k).ravel(),
            (ways[:, None] * each).ravel(),
        )
        fits = (taken <= small) & (taken + left >= small)
        taken, sums, ways = taken[fits], sums[fits], ways[fits]
        if taken.size > MOST_STATES:
            return None
    return sums**2 * (1 / small + 1 / (n - small)), ways


def _several(pool: Floats, sizes: Sequence[int]) -> tuple[Floats, Floats] | None:
    ways = math.factorial(pool.size)
    for size in sizes:
        ways //= math.factorial(size)
    if ways > MOST_WAYS:
        return None
    values = np.array(list(_statistics(np.sort(pool).tolist(), list(sizes))))
    return values, np.ones_like(values)


def _statistics(rest: list[float], sizes: list[int]) -> Iterator[float]:
    """The statistic of every way to deal `rest` to groups of these sizes."""
    size, *others = sizes
    if not others:
        yield math.fsum(rest) ** 2 / size
        return
    for chosen in itertools.combinations(range(len(rest)), size):
        mine = math.fsum(rest[i] for i in chosen) ** 2 / size
        for more in _statistics([v for i, v in enumerate(rest) if i not in chosen], others):
            yield mine + more


def _drawn(pool: Floats, sizes: Sequence[int]) -> Iterator[Floats]:
    source = np.random.default_rng(_SEED)
    # Sorted, so that the order in which specimens are named changes no figure.
    ordered = np.sort(pool)
    ends = np.cumsum([0, *sizes])
    for start in range(0, DRAWS, _CHUNK):
        dealt = source.permuted(np.tile(ordered, (min(_CHUNK, DRAWS - start), 1)), axis=1)
        parts = np.add.reduceat(dealt, ends[:-1], axis=1)
        yield np.asarray((parts**2 / np.array(sizes, float)).sum(axis=1), dtype=np.float64)
