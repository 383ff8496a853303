"""Repeatability and reproducibility of readings that several people, or one, took of one surface.

A cell is what one person read on one occasion, in one go. Source: ISO 5725-2:1994, 7.4.4 (means,
variances within and between cells), with numbers of readings that may differ from cell to cell;
limits by ISO 5725-6:1994, 4.1 (2.8 times the standard deviation). From memory; held against
worked examples in the reference cases. Never NaN: what cannot be told is None. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from acquire.analysis.samples.summary import summarise
from acquire.analysis.specimens.scatter import Pooled, pooled_sd

LIMIT_FACTOR = 2.8
"""1.96 times the root of 2, as rounded by ISO 5725-6, 4.1.4."""


def limit(sd: float) -> float:
    """What two single readings differ by at most, 19 times of 20."""
    return LIMIT_FACTOR * sd


@dataclass(frozen=True, slots=True)
class Precision:
    """What the cells of one surface say, in the unit of the readings.

    `mean` is that of all readings, `sd_of_means` the standard deviation of the cells' means; both
    None without what they are taken from. `repeatability` is the scatter within cells, None where
    no cell was read twice. `between_square` is the variance between cells as it is found, which
    may be below zero, and `n_bar` the number of readings by which it was found; None with fewer
    than two cells, or without repeatability.
    """

    mean: float | None
    sd_of_means: float | None
    repeatability: Pooled | None
    between_square: float | None
    n_bar: float | None
    cells: int

    @property
    def between(self) -> float | None:
        """s_L: what cells differ by beyond their scatter. A variance below zero counts as none."""
        return None if self.between_square is None else math.sqrt(max(0.0, self.between_square))

    @property
    def reproducibility(self) -> float | None:
        """s_R: what two single readings by different people scatter by."""
        if self.repeatability is None or self.between is None:
            return None
        return math.hypot(self.repeatability.sd, self.between)


def precision_of(cells: Sequence[Sequence[float]]) -> Precision:
    """Components of the scatter of one surface. Empty cells say nothing.

    Raises ValueError for values that are not finite.
    """
    read = [summarise(cell) for cell in cells if cell]
    means = [s.mean for s in read if s.mean is not None]
    known = [(s.sd, s.n - 1) for s in read if s.sd is not None]
    repeatability = pooled_sd([sd for sd, _ in known], [nu for _, nu in known]) if known else None
    if not means:
        return Precision(None, None, None, None, None, 0)
    counts = [s.n for s in read]
    total = sum(counts)
    mean = math.fsum(n * m for n, m in zip(counts, means, strict=True)) / total
    sd_of_means = summarise(means).sd
    between_square = n_bar = None
    if len(means) > 1:
        degrees = len(means) - 1
        n_bar = (total - sum(n * n for n in counts) / total) / degrees
        if repeatability is not None:
            # Deviations from the mean, and not squares of means: no digits are lost.
            squares = math.fsum(n * (m - mean) ** 2 for n, m in zip(counts, means, strict=True))
            between_square = (squares / degrees - repeatability.sd**2) / n_bar
    return Precision(mean, sd_of_means, repeatability, between_square, n_bar, len(means))


def critical_difference(
    repeatability: float,
    between: float,
    first: int,
    second: int,
    *,
    same_person: bool,
    factor: float = LIMIT_FACTOR,
) -> float:
    """What two means of so many readings differ by at most, 19 times of 20 (ISO 5725-6, 4.2)."""
    variance = repeatability**2 * (1 / first + 1 / second)
    if not same_person:
        variance += 2 * between**2
    return factor * math.sqrt(variance / 2)
