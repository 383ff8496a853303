"""Where zones lie on their panels: by row and column of the plan, else by their names. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from acquire.model import Plan, Zone

_ROW_AND_COLUMN = re.compile(r"([A-Z]+)([0-9]{1,3})", re.IGNORECASE)
_MOST_COLUMNS = 12
_SPARSEST = 3


class Spot(NamedTuple):
    """Row and column of a zone on its panel, from 1."""

    row: int
    column: int


class OnPanel(NamedTuple):
    """The zones of one panel. `spots` is empty where nothing says where they lie.

    `by_name` says that places were taken from the names, since the plan gives none.
    """

    panel: str
    zones: tuple[Zone, ...]
    spots: dict[str, Spot]
    by_name: bool

    @property
    def rows(self) -> int:
        return max((s.row for s in self.spots.values()), default=0)

    @property
    def columns(self) -> int:
        return max((s.column for s in self.spots.values()), default=0)


def on_panels(plan: Plan) -> tuple[OnPanel, ...]:
    """The panels of a plan that have zones, in its order, each with its zones and their places."""
    found = []
    one = plan.panels[0].id if len(plan.panels) == 1 else ""
    for panel in (p.id for p in plan.panels):
        zones = tuple(z for z in plan.zones if (z.panel or one) == panel)
        if zones:
            spots = _written(zones)
            by_name = not spots
            found.append(OnPanel(panel, zones, spots or by_names(zones), by_name))
    return tuple(found)


def _written(zones: Sequence[Zone]) -> dict[str, Spot]:
    """By the plan; empty where one zone has no place, or the sheet would be mostly empty."""
    spots = {z.id: Spot(z.row, z.column) for z in zones if z.row and z.column}
    rows = {s.row for s in spots.values()}
    columns = {s.column for s in spots.values()}
    if len(spots) < len(zones) or len(rows) * len(columns) > _SPARSEST * len(zones):
        return {}
    # Rows and columns without a zone are not drawn.
    by_row = {row: k for k, row in enumerate(sorted(rows), 1)}
    by_column = {column: k for k, column in enumerate(sorted(columns), 1)}
    return {zone: Spot(by_row[s.row], by_column[s.column]) for zone, s in spots.items()}


def by_names(zones: Sequence[Zone]) -> dict[str, Spot]:
    """Zones named like A1, B3: rows by letter, columns by number; empty where names are others."""
    found = {z.id: _ROW_AND_COLUMN.fullmatch(z.id) for z in zones}
    spots = {
        zone: (match[1].upper(), int(match[2]))
        for zone, match in found.items()
        if match is not None
    }
    # Two names for one spot, or a sheet of mostly empty places, are no map.
    if len(spots) < len(zones) or len(set(spots.values())) < len(zones):
        return {}
    letters = sorted({row for row, _ in spots.values()}, key=lambda r: (len(r), r))
    numbers = sorted({column for _, column in spots.values()})
    if len(numbers) > _MOST_COLUMNS or len(letters) * len(numbers) > _SPARSEST * len(zones):
        return {}
    return {
        zone: Spot(letters.index(row) + 1, numbers.index(column) + 1)
        for zone, (row, column) in spots.items()
    }
