"""The spread of means that the display has rounded: as large as the rounded means allow.

A display hides how still things differ below its step, and of two or three means of still readings
the spread can come out far too small, even 0, by chance: then Student's t multiplies nothing, and
slides or zones that are alike are called different (in up to 44 of 100 trials of five films against
two blanks that truly spread by half a step). That the means are rounded once each, half a step over
the root of 3 (`acquire.analysis.meter.systematic`), says how far a mean is off, and not how far
means spread.

Rule. A mean of readings that hardly differ may truly lie anywhere within half a step, times its
weight; half of that, a quarter of a step, is taken for what it may be off by. The standard
deviation taken is the largest that means so moved can have, but no more than two equal ones could:
√2 of the quarter. Beyond that the spread itself is of the order of the step, and shows. A mean of n
readings that scatter by half a step or more tells its own rounding to an n-th of the step, the grid
on which such means lie, and may lie within a part of that: so a spread of 0 never counts as none
where a step is known. That the largest value which rounded data allow stands for the least
favourable case goes after the likelihood of rounded data (C.-S. Lee and S. B. Vardeman, J. Qual.
Technol. 33 (2001) 335, from memory). The quarter is found by drawing: of one to eight treatments
with two to five zones or blanks, spreads of 0.05 to 1.5 steps and still to restless readings, up to
57 of 100 trials have a false difference without the rule, 11 with an eighth, 5 at most with a
quarter, 3 with the half, which makes limits twice as wide. Rates: ``python -m
tests.unit.analysis.stills``.
Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import NamedTuple

from acquire.analysis.cells.cell import Cell
from acquire.analysis.figures import suffix

TAKEN = 0.5
"""The part of what the display can have shifted a mean by that it is taken to be off by."""
STILL = 0.5
"""Steps of the display: readings that scatter by less do not tell how their mean is rounded."""


class Spread(NamedTuple):
    """A standard deviation; `is_raised` where the rounded means themselves have a smaller one."""

    sd: float
    is_raised: bool

    def said(self, resolution: float, unit: str) -> str:
        """What a budget adds where it was raised, with a blank before; else empty."""
        if not self.is_raised:
            return ""
        return (
            " It is the largest that the means allow for the step of the display of "
            f"{resolution:.4g}{suffix(unit)}, each off by a quarter of a step (√2 of that at "
            "most): below the step the display hides how far they are apart."
        )


def rounding_half(parts: Iterable[tuple[Cell, float]], resolution: float) -> float:
    """How far the display can have shifted the weighted sum of means, in the unit of the result.

    `resolution` is the step in the unit of the readings.
    """
    return math.fsum(
        [
            abs(w) * c.per_unit * resolution / (2 if is_still(c, resolution) else 2 * c.n)
            for c, w in parts
        ]
    )


def is_still(cell: Cell, resolution: float) -> bool:
    """Whether the readings of a cell leave its rounding open: one, or alike below half a step."""
    sd = cell.summary.sd
    return sd is None or sd < STILL * resolution * cell.per_unit


def rounded_spread(values: Sequence[float], halves: Sequence[float]) -> Spread:
    """The standard deviation of means that each lie within `TAKEN` of its half about `values`.

    Both in one unit, two at least and as many halves as values, else ValueError. Without halves it
    is that of the values.
    """
    if len(values) != len(halves) or len(values) < 2:
        raise ValueError(
            f"two values at least, and a half for each, are wanted; got {len(values)} values and "
            f"{len(halves)} halves"
        )
    return _rounded_spread(tuple(values), tuple(halves))


# The same zones stand in the pool of every pair of their stage.
@lru_cache(maxsize=4096)
def _rounded_spread(values: tuple[float, ...], halves: tuple[float, ...]) -> Spread:
    sd = _sd(values)
    off = [TAKEN * h for h in halves]
    most = math.sqrt(2) * max(off)
    if sd >= most:
        return Spread(sd, is_raised=False)
    # The sum of squares is convex in each value, so its largest lies where all are moved fully;
    # with halves alike the lower ones down, the upper ones up.
    moved = sorted(zip(values, off, strict=True))
    largest = max(
        _sd([v + (h if i >= cut else -h) for i, (v, h) in enumerate(moved)])
        for cut in range(len(moved) + 1)
    )
    found = min(largest, most)
    return Spread(max(sd, found), is_raised=found > sd)


def _sd(values: Sequence[float]) -> float:
    """As `acquire.analysis.samples.summary` has it, without all else that it says."""
    if all(v == values[0] for v in values):
        return 0.0
    n = len(values)
    mean = math.fsum(values) / n
    deviations = [v - mean for v in values]
    rest = math.fsum(deviations) / n
    return math.hypot(*(d - rest for d in deviations)) / math.sqrt(n - 1)
