"""The scatter of repeated readings: each zone and stage by its own, none lent to another.

Rule. The scatter of a mean comes from the readings of that mean alone. To pool the cells unless a
test contradicts it looks thrifty and is not: with two or three readings a cell no test (Bartlett's,
Levene's) sees a scatter that is three times that of the others, and the noisy zone's means are
then judged by the quiet ones' scatter, which made false decisions in up to 23 of 100 runs. Few
degrees of freedom are paid for in the limit instead (`acquire.analysis.reach`).

Where both sides of a difference have several zones their spread stands instead of all this
(`acquire.analysis.zones`). Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from scipy.special import gammainccinv, gammaincinv

from acquire.analysis.cell import Cell
from acquire.analysis.contrast import Contrast
from acquire.analysis.figures import rounded, suffix
from acquire.analysis.uncertainty import Distribution, Kind, Term

ENOUGH = 3
"""Readings of a cell from which its scatter is known to better than a factor of about two."""


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


@dataclass(frozen=True, slots=True)
class Scatter:
    """What the readings of a measure scatter by, in its unit.

    `sd` is the root mean square over all cells, to tell a reader how large it is; no decision
    rests on it. It is None where no cell has two readings, and 0 where it hides below the display
    step. `rule` says in sentences how scatter is counted.
    """

    sd: float | None
    nu: float
    rule: str


def lacking(contrast: Contrast) -> str:
    """Why the scatter of this contrast cannot be known; empty where it can."""
    single = [c for c, _ in contrast.parts if c.summary.sd is None]
    if not single:
        return ""
    places = ", ".join(f"zone {c.zone} at {c.stage}" for c in single)
    return (
        f"there is only one reading of {places}, so its scatter is unknown, and that of other "
        "zones cannot stand in for it"
    )


def scatter_terms(contrast: Contrast) -> tuple[Term, ...]:
    """The type A terms of a contrast, one for each cell. ValueError where they are `lacking`."""
    reason = lacking(contrast)
    if reason:
        raise ValueError(reason)
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


def scatter_of(cells: Sequence[Cell], unit: str) -> Scatter:
    """How large the scatter of all cells of one measure and channel is, and how it is counted."""
    known = [(c.summary.sd, c.n - 1) for c in cells if c.summary.sd is not None]
    if not known:
        return Scatter(
            None, 0.0,
            "No zone was read twice at any stage: the scatter of readings is unknown.",
        )  # fmt: skip
    found = pooled_sd([sd for sd, _ in known], [nu for _, nu in known])
    if found.sd == 0:
        return Scatter(
            0.0, found.nu,
            "All repeated readings agree to the last digit: their scatter is hidden below the "
            "display step, and the resolution of the display stands for it.",
        )  # fmt: skip
    return Scatter(
        found.sd, found.nu,
        f"Single readings scatter by {rounded(found.sd, found.sd)}{suffix(unit)} (root mean square "
        f"over {len(known)} zones and stages). Each zone and stage is judged by its own scatter: "
        "too few readings cannot show that all scatter alike, and a quiet zone must not lend its "
        "scatter to a restless one.",
    )  # fmt: skip
