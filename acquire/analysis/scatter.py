"""The scatter of repeated readings: one figure for all cells where that is justified.

Rule. The readings of one meter in one trial share one scatter unless the cells contradict it:
Bartlett's test (NIST/SEMATECH e-Handbook 1.3.5.7) over all cells with two readings or more, at
1 %, because pooling should fall only where scatters clearly differ; cells whose scatter hides
below the display step count with the scatter of rounding, q/sqrt(12). Not contradicted, the
variances are pooled over all zones and stages (never the standard deviations averaged), which
gives the few readings of each zone the degrees of freedom of the whole run. Contradicted, each
cell keeps its own, and the degrees of freedom follow from Welch and Satterthwaite.

Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from scipy.special import chdtrc, gammainccinv, gammaincinv

from acquire.analysis.cell import Cell
from acquire.analysis.contrast import Contrast
from acquire.analysis.figures import probability, rounded, suffix
from acquire.analysis.uncertainty import Distribution, Kind, Term

CLEARLY = 0.01


class Pooled(NamedTuple):
    """A pooled standard deviation and its degrees of freedom."""

    sd: float
    nu: float

    def interval(self, confidence: float = 0.95) -> tuple[float, float]:
        """Limits of the true standard deviation (chi-squared), normal readings."""
        tail = (1 - confidence) / 2
        return (
            self.sd * math.sqrt(self.nu / 2 / float(gammainccinv(self.nu / 2, tail))),
            self.sd * math.sqrt(self.nu / 2 / float(gammaincinv(self.nu / 2, tail))),
        )


def pooled_sd(sds: Sequence[float], nus: Sequence[float]) -> Pooled:
    """Root of the mean variance, weighted by degrees of freedom. ValueError without any."""
    nu = math.fsum(nus)
    if not nu > 0:
        raise ValueError("no degrees of freedom, so there is no scatter to pool")
    return Pooled(math.hypot(*(s * math.sqrt(n / nu) for s, n in zip(sds, nus, strict=True))), nu)


def bartlett(sds: Sequence[float], nus: Sequence[float]) -> float:
    """p of Bartlett's test that all standard deviations estimate the same one.

    1 where there is nothing to compare; 0 where some but not all are zero.
    """
    if len(sds) < 2 or all(s == sds[0] for s in sds):
        return 1.0
    if min(sds) == 0:
        return 0.0
    pooled, nu = pooled_sd(sds, nus)
    # Logarithms of standard deviations, not of variances or ratios, which may underflow.
    level = math.log(pooled)
    statistic = 2 * math.fsum(n * (level - math.log(s)) for s, n in zip(sds, nus, strict=True))
    correction = 1 + (math.fsum(1 / n for n in nus) - 1 / nu) / (3 * (len(sds) - 1))
    return float(chdtrc(len(sds) - 1, max(0.0, statistic / correction)))


@dataclass(frozen=True, slots=True)
class Scatter:
    """What the readings of a measure scatter by, in its unit.

    `sd` is None where no cell has two readings. `is_pooled` says whether `sd` stands for every
    cell. `p` is Bartlett's, None where it could not be asked. `rule` says all of it in sentences.
    """

    sd: float | None
    nu: float
    is_pooled: bool
    p: float | None
    rule: str

    def lacking(self, contrast: Contrast) -> str:
        """Why the scatter of this contrast cannot be known; empty where it can."""
        if self.sd is None:
            return "no zone was read twice at any stage, so the scatter of readings is unknown"
        if not self.is_pooled:
            single = [c for c, _ in contrast.parts if c.summary.sd is None]
            if single:
                places = ", ".join(f"zone {c.zone} at {c.stage}" for c in single)
                return (
                    f"only one reading of {places}, and the scatter of other zones cannot stand "
                    "in because it clearly differs from zone to zone"
                )
        return ""

    def terms(self, contrast: Contrast) -> tuple[Term, ...]:
        """The type A terms of a contrast. Call `lacking` first: ValueError where it is."""
        if self.lacking(contrast) or self.sd is None:
            raise ValueError(self.lacking(contrast))
        if self.is_pooled:
            counts = ", ".join(str(c.n) for c, _ in contrast.parts)
            return (
                Term(
                    "scatter of readings",
                    Kind.A,
                    self.sd,
                    self.nu,
                    contrast.reading_weight,
                    Distribution.NORMAL,
                    f"Standard deviation of one reading, pooled over the zones and stages of this "
                    f"measure; the means used here are of {counts} readings.",
                ),
            )
        return tuple(
            Term(
                f"scatter in zone {c.zone}, {c.stage}",
                Kind.A,
                c.summary.sd / math.sqrt(c.n),
                c.n - 1,
                w,
                Distribution.NORMAL,
                f"Standard deviation of the mean of the {c.n} readings taken there.",
            )
            for c, w in contrast.parts
            if c.summary.sd is not None
        )

    def variance(self, contrast: Contrast) -> float:
        """The variance that scatter gives to the contrast, in the unit squared."""
        return math.fsum(t.contribution**2 for t in self.terms(contrast))


def scatter_of(cells: Sequence[Cell], resolution: float, unit: str) -> Scatter:
    """Apply the rule of this module to all cells of one measure and channel."""
    known = [(c.summary.sd, c.n - 1) for c in cells if c.summary.sd is not None]
    if not known:
        return Scatter(
            None, 0.0, False, None,
            "No zone was read twice at any stage: the scatter of readings is unknown, and no "
            "difference can be judged.",
        )  # fmt: skip
    sds = [sd for sd, _ in known]
    nus = [float(nu) for _, nu in known]
    pooled = pooled_sd(sds, nus)
    floor = resolution / math.sqrt(12)
    p = bartlett([max(sd, floor) for sd in sds], nus) if len(known) > 1 else None
    figure = f"{rounded(pooled.sd, pooled.sd)}{suffix(unit)}" if pooled.sd > 0 else ""
    if p is not None and p < CLEARLY:
        return Scatter(
            pooled.sd, pooled.nu, False, p,
            f"The scatter clearly differs between zones or stages (Bartlett's test, "
            f"p {probability(p)}): each zone and stage keeps its own, and the degrees of freedom "
            "are Welch and Satterthwaite's.",
        )  # fmt: skip
    if pooled.sd == 0:
        rule = (
            "All repeated readings agree to the last digit: their scatter is hidden below the "
            "display step, and the resolution of the display stands for it."
        )
    elif p is None:
        rule = (
            f"One zone and stage was read more than once; its scatter, {figure} with "
            f"{pooled.nu:.0f} degrees of freedom, stands for all."
        )
    else:
        rule = (
            f"The scatter of single readings is pooled over {len(known)} zones and stages of "
            f"this measure: {figure} with {pooled.nu:.0f} degrees of freedom. The readings "
            f"were taken alike, and Bartlett's test does not contradict it (p {probability(p)})."
        )
    return Scatter(pooled.sd, pooled.nu, True, p, rule)
