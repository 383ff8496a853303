"""The zones of a contrast, side by side, and what each of them changed by.

A zone that was read at every stage of a contrast has one change: the weighted sum of its means, so
that its level is in none. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from acquire.analysis.cells.cell import Cell
from acquire.analysis.cells.contrast import BALANCED, Contrast
from acquire.analysis.specimens.roundedspread import Spread, rounded_spread, rounding_half

Zones = dict[str, dict[str, list[tuple[Cell, float]]]]
"""Cells and their weights, by treatment and zone."""


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
    def mean(self) -> float:
        """The mean change of a zone."""
        return math.fsum(self.changes) / len(self.changes)

    @property
    def spread(self) -> Spread:
        """The standard deviation of the changes; ValueError of fewer than two zones."""
        if len(self.changes) < 2:
            raise ValueError(f"two zones of {self.treatment} are wanted, got {len(self.changes)}")
        return rounded_spread(self.changes, self.halves)


def sides_of(zones: Zones, resolution: float) -> tuple[Side, ...]:
    """Each treatment of a difference with one change a zone, in the order of the contrast."""
    return tuple(
        [
            Side(
                treatment,
                tuple([change_of_zone(parts, len(side)) for parts in side.values()]),
                tuple([len(side) * rounding_half(parts, resolution) for parts in side.values()]),
            )
            for treatment, side in zones.items()
        ]
    )


def by_zone(contrast: Contrast) -> Zones:
    """Cells and weights by treatment and zone; empty where it is no difference by zones."""
    if len({cell.treatment for cell, _ in contrast.parts}) < 2:
        return {}
    zones: Zones = {}
    for cell, weight in contrast.parts:
        if cell.summary.mean is not None:
            zones.setdefault(cell.treatment, {}).setdefault(cell.zone, []).append((cell, weight))
    if len(zones) < 2:
        return {}
    every = (parts for side in zones.values() for parts in side.values())
    return zones if all(len(p) > 1 and _is_balanced(p) for p in every) else {}


def _is_balanced(parts: Sequence[tuple[Cell, float]]) -> bool:
    """Whether the weights of a zone sum to nothing, so that its level is not in it."""
    return abs(math.fsum([w for _, w in parts])) <= BALANCED


def change_of_zone(parts: Sequence[tuple[Cell, float]], zones: int) -> float:
    """Of cells and weights of one zone; the later cell comes last, whichever sign the side has."""
    means = [c.mean for c, _ in parts if c.mean is not None]
    if len(parts) == 2 and math.isclose(abs(parts[0][1]) * zones, 1.0):
        return means[1] - means[0]
    whole = zones * math.fsum(w * mean for (_, w), mean in zip(parts, means, strict=True))
    return whole if parts[-1][1] > 0 else -whole


def stage_weights(contrast: Contrast) -> dict[str, float]:
    """What each stage weighs in the change of one zone, the last stage above zero.

    Empty where zones of the contrast have not all the same.
    """
    return weights_of(by_zone(contrast))


def weights_of(zones: Zones) -> dict[str, float]:
    """As `stage_weights`, of zones that are at hand."""
    found: dict[str, float] = {}
    for side in zones.values():
        for parts in side.values():
            sign = math.copysign(len(side), parts[-1][1])
            own = {cell.stage: weight * sign for cell, weight in parts}
            if not found or found == own:
                found = own
            elif found.keys() != own.keys() or any(
                not math.isclose(found[s], w, abs_tol=BALANCED) for s, w in own.items()
            ):
                return {}
    return found


def read_at(cells: Sequence[Cell], stages: Mapping[str, float]) -> dict[str, list[list[Cell]]]:
    """Cells by treatment and zone, of zones that were read at each of the stages."""
    found: dict[str, dict[str, dict[str, Cell]]] = {}
    for cell in cells:
        if cell.stage in stages and cell.mean is not None:
            found.setdefault(cell.treatment, {}).setdefault(cell.zone, {})[cell.stage] = cell
    return {
        treatment: [
            [zone[s] for s in stages] for zone in zones.values() if len(zone) == len(stages)
        ]
        for treatment, zones in found.items()
    }
