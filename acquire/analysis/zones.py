"""Several zones a treatment: their own spread says how sure the mean change is.

A zone that was prepared, treated and read is one replicate of the whole work; its readings repeat
the reading alone. Where every side of a difference has two zones or more, the type A term of a side
is the standard deviation of the changes of its zones over the root of their number, with one degree
of freedom less than zones. Readings come in through the means only: their scatter is in the spread
already. Zones that differ by less than the display shows are taken to differ by as much as it may
hide (`acquire.analysis.roundedspread`). With one zone on a side nothing tells how zones differ, and
the readings' scatter stands, for a statement about these zones.

Source: the variance of treatments is judged by that of the experimental units (R. A. Fisher, The
Design of Experiments (1935); from memory). Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from acquire.analysis.cell import Cell
from acquire.analysis.contrast import BALANCED, Contrast
from acquire.analysis.figures import rounded, signed, suffix
from acquire.analysis.roundedspread import Spread, rounded_spread, rounding_half
from acquire.analysis.uncertainty import Distribution, Kind, Term

_MOST_LISTED = 20
_Zones = dict[str, dict[str, list[tuple[Cell, float]]]]


class Side(NamedTuple):
    """The zones of one treatment in a contrast, each with its change in the unit of the result.

    Changes have the sign of the zone itself, also where the side is taken off. Where a contrast
    weighs more than two stages, or by parts, a zone has its weighted sum in the place of a change.
    `halves` are what the display may have shifted each change by, in its unit.
    """

    treatment: str
    changes: tuple[float, ...]
    halves: tuple[float, ...]

    @property
    def spread(self) -> Spread:
        """The standard deviation of the changes; ValueError of fewer than two zones."""
        if len(self.changes) < 2:
            raise ValueError(f"two zones of {self.treatment} are wanted, got {len(self.changes)}")
        return rounded_spread(self.changes, self.halves)


def sides_of(contrast: Contrast, resolution: float = 0.0) -> tuple[Side, ...]:
    """The sides of a difference of treatments, each with one change a zone.

    `resolution` is the step of the display in the unit of the readings, 0 where it is not known.
    Empty where the contrast is no such difference: a value, the change of one treatment, or zones
    that were not read at two stages or more.
    """
    zones = _by_zone(contrast)
    return tuple(
        Side(
            treatment,
            tuple(_change(parts, len(side)) for parts in side.values()),
            tuple(len(side) * rounding_half(parts, resolution) for parts in side.values()),
        )
        for treatment, side in zones.items()
    )


def _by_zone(contrast: Contrast) -> _Zones:
    """Cells and weights by treatment and zone; empty where it is no difference by zones."""
    zones: _Zones = {}
    for cell, weight in contrast.parts:
        if cell.mean is not None:
            zones.setdefault(cell.treatment, {}).setdefault(cell.zone, []).append((cell, weight))
    if len(zones) < 2:
        return {}
    every = (parts for side in zones.values() for parts in side.values())
    return zones if all(len(p) > 1 and _is_balanced(p) for p in every) else {}


def _is_balanced(parts: Sequence[tuple[Cell, float]]) -> bool:
    """Whether the weights of a zone sum to nothing, so that its level is not in it."""
    return abs(math.fsum(w for _, w in parts)) <= BALANCED


def _change(parts: Sequence[tuple[Cell, float]], zones: int) -> float:
    """Of cells and weights of one zone; the later cell comes last, whichever sign the side has."""
    means = [c.mean for c, _ in parts if c.mean is not None]
    if len(parts) == 2 and math.isclose(abs(parts[0][1]) * zones, 1.0):
        return means[1] - means[0]
    whole = zones * math.fsum(w * mean for (_, w), mean in zip(parts, means, strict=True))
    return whole if parts[-1][1] > 0 else -whole


def is_of_zones(contrast: Contrast) -> bool:
    """Whether every side has the two zones from which on their spread can be told."""
    zones = _by_zone(contrast)
    return bool(zones) and all(len(side) > 1 for side in zones.values())


def spread_terms(
    contrast: Contrast, resolution: float, unit: str, read_unit: str
) -> tuple[Term, ...]:
    """The type A terms of a difference `is_of_zones`, one a side.

    `resolution` is the step of the display in `read_unit`, that of the readings; `unit` is that of
    the changes.
    """
    terms = []
    for side in sides_of(contrast, resolution):
        spread = side.spread
        u = spread.sd / math.sqrt(len(side.changes))
        # Ratios have no step of their own: it is that of the display over what was read.
        listed = _listed(side, u, 0.0 if contrast.is_relative else resolution)
        terms.append(
            Term(
                f"spread of the zones of {side.treatment}",
                Kind.A,
                u,
                len(side.changes) - 1,
                1.0,
                Distribution.NORMAL,
                f"Standard deviation of the changes of its {len(side.changes)} zones over the root "
                f"of their number: {listed}{suffix(unit)}. The scatter of their readings is in it."
                + spread.said(resolution, read_unit),
            )
        )
    return tuple(terms)


def _listed(side: Side, u: float, resolution: float) -> str:
    """The changes to a tenth of the last digit that matters, so that the figure can be followed."""
    place = max(resolution, u) or None
    said = [signed(change, place) for change in side.changes]
    if len(said) > _MOST_LISTED:
        low, high = (rounded(edge(side.changes), place) for edge in (min, max))
        return f"they lie from {low} to {high}"
    return ", ".join(said)
