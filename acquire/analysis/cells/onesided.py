"""Zones at stages of which presses lay out of the meter's range: what counts there is one-sided.

A press out of range has no value and its place is read again, so that of a zone near the end of the
range only those readings count that fall inside of it: their mean lies off the true one towards
the inside, by as much as nobody can tell, and they scatter less than the readings would. So
neither a mean nor a difference has an uncertainty there, and nothing is decided by it. Nor does its
treatment tell at that stage how zones of others differ: means that are cut off at one end are too
much alike, and where those of three products of four were, others had a false difference in up to
12 of 100 drawn trials and limits 20 to 40 % too narrow. A press that only slipped says nothing of
its zone, and whoever pressed can take it out. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from acquire.analysis.cells.cell import Cell

NEXT = (
    "read it with a meter whose range holds it; if such a press was a slip, take it out with the "
    "reason (coatbench void NUMBER --reason TEXT)"
)


class Beyond(NamedTuple):
    """How many presses of a zone at a stage the meter sent as above its range, and as below it."""

    above: int = 0
    below: int = 0

    @property
    def words(self) -> str:
        """``2 presses were above the meter's range``."""
        said = [
            f"{n} {'press was' if n == 1 else 'presses were'} {side} the meter's range"
            for n, side in ((self.above, "above"), (self.below, "below"))
            if n
        ]
        return " and ".join(said)


OneSided = Mapping[tuple[str, str], Beyond]
"""By zone and stage, at one channel."""


def telling(cells: Sequence[Cell], found: OneSided) -> tuple[Cell, ...]:
    """Those of the cells that may tell how zones differ: of treatments that are whole there."""
    cut = {(c.treatment, c.stage) for c in cells if (c.zone, c.stage) in found}
    return tuple(c for c in cells if (c.treatment, c.stage) not in cut)


def why_one_sided(places: Iterable[tuple[str, str]], found: OneSided) -> str:
    """Why nothing is known of a figure of these zones at stages, as a part of a sentence.

    Empty where no press of any of them lay out of range.
    """
    said = [
        f"at zone {zone}, {stage}, {found[zone, stage].words}"
        for zone, stage in places
        if (zone, stage) in found
    ]
    if not said:
        return ""
    return f"{'; '.join(said)}: the mean of what counts there is one-sided"
