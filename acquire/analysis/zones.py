"""Several zones a treatment: their own spread says how sure the mean change is.

A zone that was prepared, treated and read is one replicate of the whole work; its readings repeat
the reading alone. Where every side of a difference has two zones or more, the type A term of a side
is the standard deviation of the changes of its zones over the root of their number, with one degree
of freedom less than zones. Readings come in through the means only: their scatter is in the spread
already. With one zone on a side nothing tells how zones differ, and the readings' scatter stands,
for a statement about these zones.

Source: the variance of treatments is judged by that of the experimental units (R. A. Fisher, The
Design of Experiments (1935); from memory). Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from acquire.analysis.contrast import BALANCED, Contrast
from acquire.analysis.figures import rounded, signed, suffix
from acquire.analysis.summary import summarise
from acquire.analysis.uncertainty import Distribution, Kind, Term

_MOST_LISTED = 20


class Side(NamedTuple):
    """The zones of one treatment in a contrast, each with its change in the unit of the result.

    Changes have the sign of the zone itself, also where the side is taken off. Where a contrast
    weighs more than two stages, or by parts, a zone has its weighted sum in the place of a change.
    """

    treatment: str
    changes: tuple[float, ...]

    @property
    def u(self) -> float:
        """Standard uncertainty of the mean of the changes; two zones at least."""
        sd = summarise(self.changes).sd
        if sd is None:
            raise ValueError(f"two zones of {self.treatment} are wanted, got {len(self.changes)}")
        return sd / math.sqrt(len(self.changes))


def sides_of(contrast: Contrast) -> tuple[Side, ...]:
    """The sides of a difference of treatments, each with one change a zone.

    Empty where the contrast is no such difference: a value, the change of one treatment, or zones
    that were not read at two stages or more.
    """
    zones: dict[str, dict[str, list[tuple[float, float]]]] = {}
    for cell, weight in contrast.parts:
        if cell.mean is not None:
            here = zones.setdefault(cell.treatment, {}).setdefault(cell.zone, [])
            here.append((weight, cell.mean))
    every = [parts for side in zones.values() for parts in side.values()]
    if len(zones) < 2 or any(len(p) < 2 or not _is_balanced(p) for p in every):
        return ()
    return tuple(
        Side(treatment, tuple(_change(parts, len(side)) for parts in side.values()))
        for treatment, side in zones.items()
    )


def _is_balanced(parts: Sequence[tuple[float, float]]) -> bool:
    """Whether the weights of a zone sum to nothing, so that its level is not in it."""
    return abs(math.fsum(w for w, _ in parts)) <= BALANCED


def _change(parts: Sequence[tuple[float, float]], zones: int) -> float:
    """Of weights and means of one zone; the later cell comes last, whichever sign the side has."""
    if len(parts) == 2 and math.isclose(abs(parts[0][0]) * zones, 1.0):
        return parts[1][1] - parts[0][1]
    whole = zones * math.fsum(w * mean for w, mean in parts)
    return whole if parts[-1][0] > 0 else -whole


def is_of_zones(contrast: Contrast) -> bool:
    """Whether every side has the two zones from which on their spread can be told."""
    sides = sides_of(contrast)
    return bool(sides) and all(len(side.changes) > 1 for side in sides)


def spread_terms(contrast: Contrast, resolution: float, unit: str) -> tuple[Term, ...]:
    """The type A terms of a difference `is_of_zones`, one a side."""
    return tuple(
        Term(
            f"spread of the zones of {side.treatment}",
            Kind.A,
            side.u,
            len(side.changes) - 1,
            1.0,
            Distribution.NORMAL,
            f"Standard deviation of the changes of its {len(side.changes)} zones over the root of "
            f"their number: {_listed(side, resolution)}{suffix(unit)}. The scatter of their "
            "readings is in it.",
        )
        for side in sides_of(contrast)
    )


def _listed(side: Side, resolution: float) -> str:
    """The changes to a tenth of the last digit that matters, so that the figure can be followed."""
    place = max(resolution, side.u) or None
    said = [signed(change, place) for change in side.changes]
    if len(said) > _MOST_LISTED:
        low, high = (rounded(edge(side.changes), place) for edge in (min, max))
        return f"they lie from {low} to {high}"
    return ", ".join(said)
