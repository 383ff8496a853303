"""The map of the panel: which treatment is on which zone. Pure; any thread."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from acquire.model import Zone
from acquire.report.record import TrialRecord

_ROW_AND_COLUMN = re.compile(r"([A-Z]+)([0-9]{1,3})", re.IGNORECASE)
_MOST_COLUMNS = 12
_SPARSEST = 3


class Cell(NamedTuple):
    """One zone. `row` and `column` count from 1; 0 where it takes the next free place."""

    zone: str
    name: str
    is_control: bool
    row: int
    column: int


class PanelMap(NamedTuple):
    """`columns` is 0 where the zones' names give no places and the cells just follow each other."""

    cells: tuple[Cell, ...]
    columns: int


def panel_map(record: TrialRecord) -> PanelMap:
    """Zones named like A1, B3 are set in rows by letter and columns by number, others in order."""
    zones = record.plan.zones
    places = _places(zones)
    control = record.plan.control.id
    cells = tuple(
        Cell(z.id, record.name_of(z.treatment), z.treatment == control, *places.get(z.id, (0, 0)))
        for z in zones
    )
    return PanelMap(cells, max((c.column for c in cells), default=0))


def _places(zones: Sequence[Zone]) -> dict[str, tuple[int, int]]:
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
        zone: (letters.index(row) + 1, numbers.index(column) + 1)
        for zone, (row, column) in spots.items()
    }
