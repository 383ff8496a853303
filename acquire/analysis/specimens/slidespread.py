"""Coated slides against blanks of the same box: how slides differ says how sure a film is.

Where a plan reads no slide bare, the control's zones are the blanks and the film is the ratio of
means. A slide is then one replicate of the whole work, coated or not: the type A term of a side is
the spread of its slides, with one degree of freedom less than slides. A coated slide that stands
alone was a blank of the same box, so the blanks' spread stands for its own, in one line with their
mean, since both are one estimate; how its own readings scatter stands beside it, for a dark slide
reads worse than a clear one. Slides of all treatments tell nothing together, as zones do
(`acquire.analysis.specimens.zones`): the thickness of a film varies from slide to slide by far more
than blanks of a box may differ. By drawing, four films on two slides each beside five blanks, one
of them three times as restless: the pool that zones have calls 10 trials in 100 different, of one
ten times as restless 18 (where one that stands out is first left out by a test 12 and 14), each
side's own spread 2. That costs the power of two slides, which is said where a trial is planned
(`acquire.analysis.plans.planslides`). The rule is that of `acquire.analysis.transmission.slides`,
in logarithms. Slides that differ by less than the display shows are taken to differ by as much as
it may hide (`acquire.analysis.specimens.roundedspread`). Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import NamedTuple

from acquire.analysis.budget.uncertainty import Distribution, Kind, Term
from acquire.analysis.cells.cell import Cell
from acquire.analysis.cells.contrast import Contrast
from acquire.analysis.samples.repeatability import Repeatability
from acquire.analysis.specimens.roundedspread import Spread, rounded_spread, rounding_half
from acquire.analysis.specimens.scatter import lacking, scatter_terms

SPREAD_OF_BLANKS = "spread of the blanks"
"""The line of a budget that is of the blanks and of each coated slide that stands alone."""

_UNIT = "percent"


class Blanks(NamedTuple):
    """The blanks of one stage: the treatment that they stand for, and ln of the mean of each.

    `halves` are what the display may have shifted each by, relative; `resolution` its step, in
    percent.
    """

    control: str
    values: tuple[float, ...]
    halves: tuple[float, ...]
    resolution: float

    @property
    def spread(self) -> Spread:
        """The spread of single blanks, relative. ValueError of fewer than two."""
        if len(self.values) < 2:
            raise ValueError("two blanks are wanted, so that their spread can be told")
        return rounded_spread(self.values, self.halves)


def blanks_of(cells: Iterable[Cell], control: str, resolution: float) -> dict[str, Blanks]:
    """The blanks of each stage, from cells in logarithms; none where none was read.

    `resolution` is the step of the display, in percent.
    """
    found: dict[str, list[tuple[float, float]]] = {}
    for cell in cells:
        here = found.setdefault(cell.stage, [])
        if cell.treatment == control and cell.is_relative and cell.mean is not None:
            here.append((cell.mean, rounding_half([(cell, 1.0)], resolution)))
    return {
        stage: Blanks(control, tuple(v for v, _ in both), tuple(h for _, h in both), resolution)
        for stage, both in found.items()
    }


def slide_terms(
    contrast: Contrast, blanks: Blanks, known: Repeatability | None = None
) -> tuple[Term, ...]:
    """The type A terms of a contrast of slides at one stage. Raises ValueError for one blank."""
    terms: list[Term] = []
    blank = blanks.spread
    of_blanks: list[float] = []
    for treatment in dict.fromkeys(c.treatment for c, _ in contrast.parts):
        side = contrast.of(treatment)
        n = len(side.parts)
        if treatment == blanks.control:
            of_blanks.append(blank.sd / math.sqrt(n))
        elif n > 1:
            terms.append(_spread(side, treatment, blanks.resolution))
        else:
            of_blanks.append(blank.sd)
            if not lacking(side, known):
                terms += scatter_terms(side, known)
    m = len(blanks.values)
    if of_blanks:
        terms.append(
            Term(
                SPREAD_OF_BLANKS,
                Kind.A,
                blank.sd,
                m - 1,
                math.hypot(*of_blanks) / blank.sd if blank.sd else 0.0,
                Distribution.NORMAL,
                f"Relative standard deviation of {m} blanks; c is the root of 1 over their number "
                "and of 1 for each coated slide that stands alone, whose spread is theirs."
                + blank.said(blanks.resolution, _UNIT),
                is_common=True,
            )
        )
    return tuple(terms)


def _spread(side: Contrast, treatment: str, resolution: float) -> Term:
    found = rounded_spread(
        [c.mean for c, _ in side.parts if c.mean is not None],
        [rounding_half([(c, 1.0)], resolution) for c, _ in side.parts if c.mean is not None],
    )
    n = len(side.parts)
    return Term(
        f"spread of the slides of {treatment}",
        Kind.A,
        found.sd / math.sqrt(n),
        n - 1,
        1.0,
        Distribution.NORMAL,
        f"Relative standard deviation of {n} slides over the root of their number. The scatter of "
        f"their readings is in it.{found.said(resolution, _UNIT)}",
    )
