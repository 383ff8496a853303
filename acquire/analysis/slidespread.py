"""Coated slides against blanks of the same box: how slides differ says how sure a film is.

Where a plan reads no slide bare, the control's zones are the blanks and the film is the ratio of
means. A slide is then one replicate of the whole work, coated or not: the type A term of a side is
the spread of its slides, with one degree of freedom less than slides. A coated slide that stands
alone was a blank of the same box, so the blanks' spread stands for its own, in one line with their
mean, since both are one estimate; how its own readings scatter stands beside it, for a dark slide
reads worse than a clear one. The rule is that of `acquire.analysis.transmission.slides`, in
logarithms. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from acquire.analysis.cell import Cell
from acquire.analysis.contrast import Contrast
from acquire.analysis.repeatability import Repeatability
from acquire.analysis.scatter import lacking, scatter_terms
from acquire.analysis.summary import summarise
from acquire.analysis.uncertainty import Distribution, Kind, Term


class Blanks(NamedTuple):
    """The blanks of one stage: the treatment that they stand for, and ln of the mean of each."""

    control: str
    values: tuple[float, ...]

    @property
    def sd(self) -> float:
        """The spread of single blanks, relative. ValueError of fewer than two."""
        sd = summarise(self.values).sd
        if sd is None:
            raise ValueError("two blanks are wanted, so that their spread can be told")
        return sd


def blanks_of(cells: Iterable[Cell], control: str) -> dict[str, Blanks]:
    """The blanks of each stage, from cells in logarithms; none where none was read."""
    found: dict[str, list[float]] = {}
    for cell in cells:
        here = found.setdefault(cell.stage, [])
        if cell.treatment == control and cell.is_relative and cell.mean is not None:
            here.append(cell.mean)
    return {stage: Blanks(control, tuple(values)) for stage, values in found.items()}


def slide_terms(
    contrast: Contrast, blanks: Blanks, known: Repeatability | None = None
) -> tuple[Term, ...]:
    """The type A terms of a contrast of slides at one stage. Raises ValueError for one blank."""
    terms: list[Term] = []
    of_blanks: list[float] = []
    for treatment in dict.fromkeys(c.treatment for c, _ in contrast.parts):
        side = contrast.of(treatment)
        n = len(side.parts)
        if treatment == blanks.control:
            of_blanks.append(blanks.sd / math.sqrt(n))
        elif n > 1:
            terms.append(_spread(treatment, [c.mean for c, _ in side.parts if c.mean is not None]))
        else:
            of_blanks.append(blanks.sd)
            if not lacking(side, known):
                terms += scatter_terms(side, known)
    m = len(blanks.values)
    if of_blanks:
        terms.append(
            Term(
                "spread of the blanks",
                Kind.A,
                blanks.sd,
                m - 1,
                math.hypot(*of_blanks) / blanks.sd if blanks.sd else 0.0,
                Distribution.NORMAL,
                f"Relative standard deviation of {m} blanks; c is the root of 1 over their number "
                "and of 1 for each coated slide that stands alone, whose spread is theirs.",
            )
        )
    return tuple(terms)


def _spread(treatment: str, values: Sequence[float]) -> Term:
    sd = summarise(values).sd
    assert sd is not None
    return Term(
        f"spread of the slides of {treatment}",
        Kind.A,
        sd / math.sqrt(len(values)),
        len(values) - 1,
        1.0,
        Distribution.NORMAL,
        f"Relative standard deviation of {len(values)} slides over the root of their number. The "
        "scatter of their readings is in it.",
    )
