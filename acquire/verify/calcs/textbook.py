"""Textbook comparisons of sides of readings, put together from what results are made of.

A t test, Tukey's and Games and Howell's are decisions by one line of scatter. Sides are gathered as
zones, differences are contrasts, and limit and level come from `acquire.analysis.budget.reach`;
what results do otherwise is to keep the scatters of both sides as lines of their own (`lines`).
Never an infinite t or p = 0 from readings without scatter: t and p are None then. Pure; any thread.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from acquire.analysis.budget.reach import Reach, reach_of
from acquire.analysis.budget.uncertainty import Distribution, Kind, Term, welch_satterthwaite
from acquire.analysis.cells.cell import Cell, gather
from acquire.analysis.cells.contrast import Contrast, value_of
from acquire.analysis.laws.studentrange import range_p
from acquire.analysis.samples.sample import Sample
from acquire.analysis.specimens.scatter import pooled_sd, scatter_terms
from acquire.analysis.treatments.decision import Finding

_STAGE = "read"


class Variances(StrEnum):
    """What is assumed of the scatter of the sides."""

    SEPARATE = "separate"
    """Each its own: Welch's test; Games and Howell's of several."""
    POOLED = "pooled"
    """The same: Student's test; Tukey's and Kramer's of several."""
    PAIRED = "paired"
    """Readings come in pairs; only the scatter of their differences counts."""


@dataclass(frozen=True, slots=True)
class Difference:
    """First side less second, in the unit of the readings, with `lines` of scatter.

    All are taken for one line with `se` and `df`. `means` sides are held against one another.
    """

    estimate: float
    lines: tuple[Term, ...]
    se: float
    df: float
    means: int = 2

    @property
    def t(self) -> float | None:
        return self.estimate / self.se if self.se > 0 else None

    @property
    def p(self) -> float | None:
        """Two-sided, for all pairs together where there are several."""
        if self.t is None:
            return None
        if self.means > 2:
            # The limit of `reach` is the inverse of this, whose digits are sure further out.
            return range_p(math.sqrt(2) * abs(self.t), self.means, self.df)
        return self.reach.p(abs(self.estimate))

    @property
    def reach(self) -> Reach:
        """Raises ValueError where there is no scatter."""
        return reach_of([scatter_line(self.se, self.df)], self.means)

    def half_width(self, alpha: float = 0.05) -> float:
        return self.reach.half_width(alpha) if self.se > 0 else 0.0

    def interval(self, alpha: float = 0.05) -> tuple[float, float]:
        half = self.half_width(alpha)
        return self.estimate - half, self.estimate + half


class Equivalence(NamedTuple):
    """Two one-sided tests against a margin, and the 1 - 2 alpha interval that decides."""

    p_lower: float
    p_upper: float
    interval: tuple[float, float]
    is_equivalent: bool


def scatter_line(u: float, nu: float) -> Term:
    """One line of a budget."""
    return Term("scatter", Kind.A, u, nu, 1.0, Distribution.NORMAL, "case file")


def two_sample(
    x: Sequence[float], y: Sequence[float], variances: Variances = Variances.SEPARATE
) -> Difference:
    """mean(x) - mean(y). Raises ValueError for too few readings, or pairs that do not match."""
    if variances is Variances.PAIRED:
        if len(x) != len(y):
            raise ValueError(f"pairs are wanted, got {len(x)} and {len(y)} readings")
        (cell,) = _cells([[a - b for a, b in zip(x, y, strict=True)]])
        return _difference(value_of(cell), 2)
    return all_pairs([x, y], variances)[0, 1]


def all_pairs(
    sides: Sequence[Sequence[float]], variances: Variances
) -> dict[tuple[int, int], Difference]:
    """Every side less every later one, counted from 0.

    Raises ValueError for fewer than two sides, too few readings, or sides that are paired.
    """
    if len(sides) < 2 or variances is Variances.PAIRED or not all(sides):
        raise ValueError(
            f"2 sides or more with readings, not in pairs, are wanted: {[len(s) for s in sides]}"
        )
    cells = _cells(sides)
    known = [(c.summary.sd, c.n - 1) for c in cells if c.summary.sd is not None]
    pooled = None
    if variances is Variances.POOLED:
        if not known:
            raise ValueError("every side has one reading, so nothing tells how readings scatter")
        pooled = pooled_sd([sd for sd, _ in known], [nu for _, nu in known])
    found = {}
    for i, j in itertools.combinations(range(len(cells)), 2):
        contrast = value_of(cells[i]).minus(value_of(cells[j]))
        own = None
        if pooled is not None:
            own = (scatter_line(pooled.sd * contrast.reading_weight, pooled.nu),)
        found[i, j] = _difference(contrast, len(cells), own)
    return found


def tost(difference: Difference, margin: float, alpha: float = 0.05) -> Equivalence:
    """Whether the difference is shown to lie inside +/- `margin` (D. J. Schuirmann, 1987).

    Raises ValueError where the margin is not positive, or the readings have no scatter.
    """
    if not margin > 0:
        raise ValueError(f"a margin above zero is wanted, got {margin}")
    if difference.se == 0:
        raise ValueError("readings without scatter cannot show equivalence by themselves")
    reach, estimate = difference.reach, difference.estimate
    narrow = reach.half_width(2 * alpha)
    finding = Finding(estimate, reach.half_width(alpha), narrow, margin)
    return Equivalence(
        _beyond(reach, margin + estimate),
        _beyond(reach, margin - estimate),
        (estimate - narrow, estimate + narrow),
        finding.is_equality_shown,
    )


def _beyond(reach: Reach, size: float) -> float:
    """The one-sided level at which `size` is just reached."""
    tail = reach.p(abs(size)) / 2
    return tail if size >= 0 else 1 - tail


def _difference(
    contrast: Contrast, means: int, lines: tuple[Term, ...] | None = None
) -> Difference:
    lines = scatter_terms(contrast) if lines is None else lines
    as_one = welch_satterthwaite([t.contribution for t in lines], [t.nu for t in lines])
    return Difference(contrast.estimate, lines, as_one.u, as_one.nu, means)


def _cells(sides: Sequence[Sequence[float]]) -> tuple[Cell, ...]:
    """Each side as the readings of a zone of its own."""
    samples = [
        Sample(f"{n + 1}", f"side {n + 1}", _STAGE, k, "", float(value), float(k), k)
        for n, side in enumerate(sides)
        for k, value in enumerate(side, 1)
    ]
    zones = [(f"{n + 1}", f"side {n + 1}") for n in range(len(sides))]
    return gather(zones, [_STAGE], samples, (), 0.0)
