"""The scatter of repeated readings: each zone and stage by its own, none lent to another.

Only what a study of the instrument found stands in for readings that scatter less or were taken
once, and counts beside those that scatter more (`acquire.analysis.samples.repeatability`).

Rule. The scatter of a mean comes from the readings of that mean alone. To pool the cells unless a
test contradicts it looks thrifty and is not: with two or three readings a cell no test (Bartlett's,
Levene's) sees a scatter that is three times that of the others, and the noisy zone's means are
then judged by the quiet ones' scatter, which made false decisions in up to 23 of 100 runs. Few
degrees of freedom are paid for in the limit instead (`acquire.analysis.budget.reach`).

Two or three readings that agree tell no scatter, and Student's t times none is none: of means of
two such readings that truly scatter by one step of the display the interval by the resolution alone
held 74 of 100, by two steps 43 (drawn). So the scatter of a mean that is stated by itself is never
taken for less than that of rounding, a step over the root of 12 (JCGM 100:2008, F.2.2.1): then
it holds 90 to 100 (``tests/unit/analysis/test_agreeing.py``). In a difference the widest line
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

SCATTER_IN = "scatter in "
SCATTER_BY_STUDY = "scatter by the study: "
"""What the lines are called that say how readings scatter."""
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
    contrast: Contrast, known: Repeatability | None = None, step: float = 0.0, least: int = 1
) -> tuple[Term, ...]:
    """The type A terms of a contrast: one for each cell, or one for all that a study stands for.

    What a study lends is off for all of these alike. ValueError where they are `lacking`. `step` is
    that of the display where readings that agree are to have the scatter of rounding. With `least`
    the terms are those of so many readings in every cell that has fewer, if they scattered as here.
    """
    reason = lacking(contrast, known)
    if reason:
        raise ValueError(reason)
    cells = [_Read(c, w * c.per_unit, max(c.n, least)) for c, w in contrast.parts]
    own = [_term(r, known if _is_lent(r.cell, known) else None, step) for r in cells
           if not r.is_by(known)]  # fmt: skip
    lent = [r for r in cells if r.is_by(known)]
    return (*own, _lent_term(lent, known)) if lent and known is not None else tuple(own)


class _Read(NamedTuple):
    """A cell with the weight of its readings' mean, and how many of them are counted with."""

    cell: Cell
    weight: float
    n: int

    @property
    def sd(self) -> float | None:
        """In the unit of the readings."""
        found = self.cell.summary.sd
        return None if found is None else found / self.cell.per_unit

    @property
    def place(self) -> str:
        return f"zone {self.cell.zone}, {self.cell.stage}"

    def is_by(self, known: Repeatability | None) -> bool:
        """Whether a study stands for its scatter."""
        return known is not None and _is_lent(self.cell, known) and known.stands_for(self.sd)


def _is_lent(cell: Cell, known: Repeatability | None) -> bool:
    return known is not None and cell.mean is not None and known.covers(read_mean(cell))


def _term(read: _Read, known: Repeatability | None, step: float) -> Term:
    sd, n = read.sd, read.n
    assert sd is not None
    nu: float = n - 1
    note = f"Standard deviation of the mean of the {n} readings taken there."
    if known is not None:
        nu = known.nu_beside(sd, n)
        note += (
            f" It is larger than that of {known.source}, within what chance has, so the degrees of "
            "freedom of both count."
            if nu > n - 1
            else f" It is larger than chance lets it be by {known.source} once in 1000, so they "
            "are judged by themselves."
        )
    elif (rounding := step / math.sqrt(12)) > sd:
        sd = rounding
        note = (
            f"The {n} readings taken there agree to the step of the display, by which chance "
            "they do nobody knows: the standard deviation of rounding itself stands for theirs, "
            "a step over √12."
        )
    return Term(
        f"{SCATTER_IN}{read.place}",
        Kind.A,
        sd / math.sqrt(n),
        nu,
        read.weight,
        Distribution.NORMAL,
        note,
        # With the study's degrees of freedom it holds for no other scatter than about the study's.
        is_common=nu > n - 1,
    )


def _lent_term(lent: Sequence[_Read], known: Repeatability) -> Term:
    places = ", ".join(f"{r.place}{f' (n = {r.n})' if r.n > 1 else ''}" for r in lent)
    return Term(
        f"{SCATTER_BY_STUDY}{places}",
        Kind.A,
        known.sd,
        known.nu,
        math.hypot(*(r.weight / math.sqrt(r.n) for r in lent)),
        Distribution.NORMAL,
        f"Repeatability from {known.source}: the readings taken there scatter less, or are single "
        "ones and have no scatter of their own. c is the root of the sum of the squares of their "
        "weights over the numbers of readings.",
        is_common=True,
    )


def lines_apart(
    line: Term, contrast: Contrast, known: Repeatability | None
) -> tuple[tuple[str, float, float], ...]:
    """Name, weight in the result and degrees of freedom of a line, cell by cell.

    The line of a study is of several cells, each of which errs by itself; others are one.
    """
    if known is None or not line.name.startswith(SCATTER_BY_STUDY):
        return ((line.name, line.sensitivity * line.u, line.nu),)
    lent = [r for c, w in contrast.parts if (r := _Read(c, w * c.per_unit, c.n)).is_by(known)]
    places = f"{line.name.removeprefix(SCATTER_BY_STUDY)}, "
    return tuple(
        (f"{SCATTER_IN}{r.place}", r.weight * known.sd / math.sqrt(r.n), line.nu)
        for r in lent
        if f"{r.place}, " in places or f"{r.place} (n = {r.n}), " in places
    )


def scatter_of(cells: Sequence[Cell], unit: str, known: Repeatability | None = None) -> Scatter:
    """How large the scatter of all cells of one measure and channel is, and how it is counted.

    `known` is what a study lends.
    """
    read = [(c.summary.sd, c.n - 1) for c in cells if c.summary.sd is not None]
    if not read:
        return Scatter(
            None, 0.0,
            "No zone was read twice at any stage: the scatter of readings is unknown.",
        )  # fmt: skip
    found = pooled_sd([sd for sd, _ in read], [nu for _, nu in read])
    if found.sd == 0:
        return Scatter(
            0.0, found.nu,
            "All repeated readings agree to the last digit: their scatter is hidden below the "
            "display step, and the resolution of the display stands for it.",
        )  # fmt: skip
    beside = "" if known is None else " beside that of the study in use"
    return Scatter(
        found.sd, found.nu,
        f"Single readings scatter by {rounded(found.sd, found.sd)}{suffix(unit)} (root mean square "
        f"over {len(read)} zones and stages). Where readings say "
        f"how sure a difference is, each zone and stage is judged by its own scatter{beside}: too "
        "few readings cannot show that all scatter alike, and a quiet zone must not lend its "
        "scatter to a restless one.",
    )  # fmt: skip
