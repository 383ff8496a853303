"""Mandel's h and k: how each person's mean and scatter stand among the others'.

h is the deviation of a mean from the mean of means in standard deviations of the means, k the
scatter of a cell over the pooled scatter. Source: ISO 5725-2:1994, 7.3.1; limits by Student's t
and Fisher's F (ASTM E691, from memory). For drawings and flags; nothing is removed by them. Pure;
any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from acquire.analysis.laws.special import fdtri
from acquire.analysis.laws.student import t_quantile
from acquire.analysis.samples.summary import summarise

FEWEST = 3
"""With two people each mean is as far from the middle as the other."""


def h_of(means: Sequence[float]) -> tuple[float, ...] | None:
    """h of each mean; None below three, or where all are equal."""
    summary = summarise(means)
    if summary.n < FEWEST or summary.mean is None or not summary.sd:
        return None
    return tuple((m - summary.mean) / summary.sd for m in means)


def k_of(sds: Sequence[float], pooled: float) -> tuple[float, ...] | None:
    """k of each cell; None below two cells, or without scatter."""
    if len(sds) < 2 or not pooled > 0:
        return None
    return tuple(sd / pooled for sd in sds)


def h_critical(people: int, alpha: float = 0.01) -> float:
    """The |h| that one of so many people exceeds with probability `alpha`, by chance alone.

    Raises ValueError below three.
    """
    if people < FEWEST:
        raise ValueError(f"h wants at least {FEWEST} people, got {people}")
    t = t_quantile(1 - alpha / 2, people - 2)
    return (people - 1) * t / math.sqrt(people * (t * t + people - 2))


def k_critical(cells: int, readings: int, alpha: float = 0.01) -> float:
    """The k that one of so many cells of so many readings exceeds with probability `alpha`.

    Raises ValueError below two cells or two readings.
    """
    if cells < 2 or readings < 2:
        raise ValueError(f"k wants at least 2 cells of 2 readings, got {cells} of {readings}")
    own = readings - 1
    f = float(fdtri(own, (cells - 1) * own, 1 - alpha))
    return math.sqrt(cells / (1 + (cells - 1) / f))
