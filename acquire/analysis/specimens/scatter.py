"""The scatter of repeated readings: each zone and stage by its own, none lent to another.

Only what a study of the instrument found stands in for a zone that was read once, and holds up the
scatter of readings that agree by luck (`acquire.analysis.samples.repeatability`).

Rule. The scatter of a mean comes from the readings of that mean alone. To pool the cells unless a
test contradicts it looks thrifty and is not: with two or three readings a cell no test (Bartlett's,
Levene's) sees a scatter that is three times that of the others, and the noisy zone's means are
then judged by the quiet ones' scatter, which made false decisions in up to 23 of 100 runs. Few
degrees of freedom are paid for in the limit instead (`acquire.analysis.budget.reach`).

Two or three readings that agree tell no scatter, and Student's t times none is none: of means of
two such readings that truly scatter by one step of the display the interval by the resolution alone
held 74 of 100, by two steps 43 (drawn). So the scatter of a mean that is stated by itself is never
taken for less than that of rounding, a step over the root of 12 (JCGM 100:2008, F.2.2.1): then
it holds 90 to 100 (``tests/unit/test_analysis_agreeing.py``). In a difference the widest line
rules, and no more false ones come of it.

Where both sides of a difference have several zones their spread stands instead of all this
(`acquire.analysis.specimens.zones`). Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from acquire.analysis.budget.uncertainty import Distribution, Kind, Term
from acquire.analysis.cells.cell import Cell
from acquire.analysis.cells.contrast import Contrast
from acquire.analysis.cells.relative import read_mean
from acquire.analysis.figures import rounded, suffix
from acquire.analysis.laws.special import gammainccinv, gammaincinv
from acquire.analysis.samples.repeatability import Repeatability

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


def lacking(contrast: Contrast, known: Repeatability | None = None) -> str:
    """Why the scatter of this contrast cannot be known; empty where it can.

    `known` is what a study lends to zones that were read once.
    """
    single = [c for c, _ in contrast.parts if c.summary.sd is None and not _is_lent(c, known)]
    if not single:
        return ""
    places = ", ".join(f"zone {c.zone} at {c.stage}" for c in single)
    beyond = f"; it lies beyond the levels of {known.source}" if known is not None else ""
    return (
        f"there is only one reading of {places}, so its scatter is unknown, and that of other "
        f"zones cannot stand in for it{beyond}"
    )


def scatter_terms(
    contrast: Contrast, known: Repeatability | None = None, step: float = 0.0
) -> tuple[Term, ...]:
    """The type A terms of a contrast, one for each cell. ValueError where they are `lacking`.

    Cells that were read once have one term together: what a study lends them is off for all alike.
    `step` is that of the display where readings that agree are to have the scatter of rounding.
    """
    reason = lacking(contrast, known)
    if reason:
        raise ValueError(reason)
    own = tuple(
        _term(c, sd / c.per_unit, w * c.per_unit, known if _is_lent(c, known) else None, step)
        for c, w in contrast.parts
        if (sd := c.summary.sd) is not None
    )
    single = [(c, w) for c, w in contrast.parts if c.summary.sd is None]
    if not single:
        return own
    assert known is not None
    return (*own, _lent_term(single, known))


def _is_lent(cell: Cell, known: Repeatability | None) -> bool:
    return known is not None and cell.mean is not None and known.covers(read_mean(cell))


def _term(cell: Cell, sd: float, weight: float, known: Repeatability | None, step: float) -> Term:
    note = f"Standard deviation of the mean of the {cell.n} readings taken there."
    if known is not None and (floor := known.floor(cell.n)) > sd:
        sd = floor
        note = (
            f"The {cell.n} readings taken there agree better than {known.source} lets expect: "
            "their standard deviation is raised until its t times it reaches that of the study."
        )
    elif known is None and (rounding := step / math.sqrt(12)) > sd:
        sd = rounding
        note = (
            f"The {cell.n} readings taken there agree to the step of the display, by which chance "
            "they do nobody knows: the standard deviation of rounding itself stands for theirs, "
            "a step over √12."
        )
    return Term(
        f"scatter in zone {cell.zone}, {cell.stage}",
        Kind.A,
        sd / math.sqrt(cell.n),
        cell.n - 1,
        weight,
        Distribution.NORMAL,
        note,
    )


def _lent_term(single: Sequence[tuple[Cell, float]], known: Repeatability) -> Term:
    places = ", ".join(f"zone {c.zone}, {c.stage}" for c, _ in single)
    return Term(
        f"scatter of single readings: {places}",
        Kind.A,
        known.sd,
        known.nu,
        math.hypot(*(w * c.per_unit for c, w in single)),
        Distribution.NORMAL,
        f"Repeatability from {known.source}: these were read once and have no scatter of their "
        "own. c is the root of the sum of squares of their weights.",
        is_common=True,
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
        f"over {len(known)} zones and stages). Where readings say "
        "how sure a difference is, each zone and stage is judged by its own scatter: too few "
        "readings cannot show that all scatter alike, and a quiet zone must not lend its "
        "scatter to a restless one.",
    )  # fmt: skip
