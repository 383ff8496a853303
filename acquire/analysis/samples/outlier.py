"""Grubbs' test for one reading that does not belong to the others.

It flags and explains. It never removes a reading: only a person voids one, with a reason.
Source: F. E. Grubbs, Technometrics 11 (1969) 1; two-sided values as in ISO 5725-2. The test
assumes normal scatter and finds one outlier; two on the same side hide each other (masking).
Pure. Any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

from acquire.analysis.laws.student import t_quantile, t_tail
from acquire.analysis.samples.repeatability import Repeatability

FEWEST = 3
"""With two readings each is as far from the mean as the other."""

STILL = 0.5
"""Steps of the display: readings that scatter by less do not tell how far they are apart."""

MOST_ALIKE = 4
"""Readings of which all but one may well be alike by rounding alone. Our choice."""

STEPS = 2
"""Readings so many steps of the display apart may differ by little more than one: each is rounded
by up to half a step, and of three readings two that agree make any third one stand out."""


class Grubbs(NamedTuple):
    """The most distant reading and how surprising it is.

    `suspect` counts from 0 in the data as given; of several equally distant the first.
    `statistic` is |x - mean| / s, `critical` the two-sided limit, `p` the two-sided probability
    that the largest of n normal readings lies as far out. `by` names where s is from, if it is not
    that of the readings themselves.
    """

    suspect: int
    statistic: float
    critical: float
    p: float
    is_outlier: bool
    by: str = ""


@lru_cache(maxsize=1024)
def grubbs_critical(n: int, alpha: float = 0.05, *, two_sided: bool = True) -> float:
    """The value that G of `n` normal readings exceeds with probability `alpha`.

    (n-1)/sqrt(n) sqrt(t^2/(n-2+t^2)) with t at alpha/(2n) two-sided or alpha/n one-sided and n-2
    degrees of freedom. Raises ValueError below three readings.
    """
    if n < FEWEST:
        raise ValueError(f"Grubbs' test wants at least {FEWEST} readings, got {n}")
    t = t_quantile(1 - alpha / ((2 if two_sided else 1) * n), n - 2)
    return largest_possible(n) * math.sqrt(t * t / (n - 2 + t * t))


def largest_possible(n: int) -> float:
    """(n-1)/sqrt(n): no reading of n can be farther out, so |z| > 3 never happens for n <= 10."""
    return (n - 1) / math.sqrt(n)


def grubbs_p(statistic: float, n: int, *, two_sided: bool = True) -> float:
    """The probability that the most distant of `n` normal readings has this G or a larger one.

    Bonferroni's bound, exact where G is large enough to matter; never above 1.
    """
    if n < FEWEST:
        raise ValueError(f"Grubbs' test wants at least {FEWEST} readings, got {n}")
    room = (n - 1) ** 2 - n * statistic**2
    if room <= 0:
        return 0.0
    t = math.sqrt(n * (n - 2) * statistic**2 / room)
    return min(1.0, (2 if two_sided else 1) * n * t_tail(t, n - 2))


def grubbs(
    values: Sequence[float],
    mean: float,
    sd: float,
    *,
    alpha: float = 0.05,
    resolution: float = 0.0,
) -> Grubbs | None:
    """Test the reading farthest from `mean`; None below three readings or without any scatter.

    A reading no more than two display steps (`resolution`, in the unit of the values) from the
    nearest other one is not called an outlier: last digits that flip among equal readings pass
    every such test and mean nothing. Nor is one that would not be so far out if the display had
    shown all of it: two alike of three make any third one as odd as one of three can be.
    """
    n = len(values)
    if n < FEWEST or sd <= 0:
        return None
    sizes = [abs(v - mean) for v in values]
    index = sizes.index(max(sizes))
    statistic = min(abs(values[index] - mean) / sd, largest_possible(n))
    critical = grubbs_critical(n, alpha)
    is_outlier = (
        statistic > critical
        and _is_apart(values, index, resolution)
        and _least(values, index, resolution) > critical
    )
    return Grubbs(index, statistic, critical, grubbs_p(statistic, n), is_outlier)


def apart(
    values: Sequence[float],
    mean: float,
    known: Repeatability,
    *,
    alpha: float = 0.05,
    resolution: float = 0.0,
) -> Grubbs | None:
    """Test the reading farthest from `mean` by a scatter known beforehand; None below three.

    Three or four readings that have an outlier among them scatter by it, and Grubbs' test sees
    nothing; a scatter from elsewhere does not hide it. (x - mean)/s times the root of n/(n-1) of
    each reading follows Student's t with the degrees of freedom of s; the limit is that of the
    largest of n by Bonferroni (after K. R. Nair, Biometrika 35 (1948) 118, from memory).
    """
    n = len(values)
    if n < FEWEST:
        return None
    index = max(range(n), key=lambda i: abs(values[i] - mean))
    statistic = abs(values[index] - mean) / known.sd
    room = math.sqrt((n - 1) / n)
    critical = room * t_quantile(1 - alpha / (2 * n), known.nu)
    p = min(1.0, 2 * n * t_tail(statistic / room, known.nu))
    is_outlier = statistic > critical and _is_apart(values, index, resolution)
    return Grubbs(index, statistic, critical, p, is_outlier, known.source)


def _least(values: Sequence[float], index: int, resolution: float) -> float:
    """About the least G that the readings can have had before the display rounded them.

    Infinite where the others scatter by half a step or more, so that rounding hides nothing, and of
    five readings or more: four are seldom alike by rounding alone. Else the suspect lay half a step
    nearer to them, and they as far apart as half a step each allows: the lower ones lower, the
    upper ones higher.
    """
    if len(values) > MOST_ALIKE:
        return math.inf
    rest = sorted(v for i, v in enumerate(values) if i != index)
    middle = math.fsum(rest) / len(rest)
    if math.fsum((v - middle) ** 2 for v in rest) >= (len(rest) - 1) * (STILL * resolution) ** 2:
        return math.inf
    half, below = resolution / 2, len(rest) // 2
    moved = [v - half if i < below else v + half for i, v in enumerate(rest)]
    suspect = values[index] + math.copysign(half, middle - values[index])
    every = [*moved, suspect]
    mean = math.fsum(every) / len(every)
    sd = math.sqrt(math.fsum((v - mean) ** 2 for v in every) / (len(every) - 1))
    return min(abs(suspect - mean) / sd, largest_possible(len(every)))


def _is_apart(values: Sequence[float], index: int, resolution: float) -> bool:
    nearest = min(abs(values[index] - v) for i, v in enumerate(values) if i != index)
    # Decimal digits have no exact binary form: two steps apart must not count as more than two.
    return resolution == 0 or nearest > STEPS * resolution * (1 + 1e-9)
