"""One-way analysis of variance: what groups differ by, and what they scatter by within.

Source: R. A. Fisher; form of the NIST StRD sets, by which it is held in the reference cases. The F
test says that some groups differ and not which; `acquire.analysis.comparisons.among` says which of
treatments. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from acquire.analysis.laws.special import fdtrc
from acquire.analysis.samples.summary import checked


@dataclass(frozen=True, slots=True)
class Anova:
    """Sums of squares in the square of the readings' unit, with their degrees of freedom.

    `f` and `p` are None where no group scatters: there is nothing to hold the means against.
    `explained` is the part of all variation that lies between groups, None where there is none.
    """

    ss_between: float
    df_between: int
    ss_within: float
    df_within: int
    f: float | None
    p: float | None

    @property
    def residual_sd(self) -> float:
        """The scatter within groups, pooled."""
        return math.sqrt(self.ss_within / self.df_within)

    @property
    def explained(self) -> float | None:
        total = self.ss_between + self.ss_within
        return self.ss_between / total if total > 0 else None


def one_way(groups: Sequence[Sequence[float]]) -> Anova:
    """Analyse two groups or more; one of them at least has two readings.

    Means and deviations are taken from one reading on and sums are exact, so that a large common
    level costs few digits. Raises ValueError for fewer groups, an empty one, no group with two
    readings, or values that are not finite.
    """
    if len(groups) < 2 or any(not g for g in groups):
        raise ValueError(
            f"2 groups or more with readings are wanted, got {[len(g) for g in groups]}"
        )
    origin = checked(groups[0][0])
    moved = [[checked(v) - origin for v in g] for g in groups]
    total = sum(len(g) for g in moved)
    df_between, df_within = len(moved) - 1, total - len(moved)
    if df_within == 0:
        raise ValueError("every group has one reading, so nothing tells how readings scatter")
    grand = math.fsum(v for g in moved for v in g) / total
    means = [math.fsum(g) / len(g) for g in moved]
    between = math.fsum(len(g) * (m - grand) ** 2 for g, m in zip(moved, means, strict=True))
    within = math.fsum(
        0.0 if all(v == g[0] for v in g) else math.fsum((v - m) ** 2 for v in g)
        for g, m in zip(moved, means, strict=True)
    )
    if within == 0:
        return Anova(between, df_between, 0.0, df_within, None, None)
    f = (between / df_between) / (within / df_within)
    return Anova(between, df_between, within, df_within, f, float(fdtrc(df_between, df_within, f)))
