"""The map of the panels: which treatment is on which zone. Pure; any thread."""

from __future__ import annotations

from typing import NamedTuple

from acquire.report.record.record import TrialRecord
from acquire.trial.places import OnPanel, on_panels


class Cell(NamedTuple):
    """One zone. `row` and `column` count from 1; 0 where it takes the next free place."""

    zone: str
    name: str
    is_control: bool
    row: int
    column: int


class PanelMap(NamedTuple):
    """One panel; `title` is empty where there is but one.

    `columns` is 0 where nothing says where zones lie and the cells just follow each other.
    """

    cells: tuple[Cell, ...]
    columns: int
    title: str
    legend: str


def panel_maps(record: TrialRecord) -> tuple[PanelMap, ...]:
    """Zones in their rows and columns, by the plan or else by names like A1, others in order."""
    panels = on_panels(record.plan)
    names = {panel.id: str(panel) for panel in record.plan.panels}
    return tuple(
        _map(record, panel, names[panel.panel] if len(panels) > 1 else "") for panel in panels
    )


def _map(record: TrialRecord, panel: OnPanel, title: str) -> PanelMap:
    control = record.plan.control.id
    cells = tuple(
        Cell(
            zone.id,
            record.name_of(zone.treatment),
            zone.treatment == control,
            *panel.spots.get(zone.id, (0, 0)),
        )
        for zone in panel.zones
    )
    return PanelMap(cells, panel.columns, title, _legend(panel))


def _legend(panel: OnPanel) -> str:
    if not panel.spots:
        return "In the order of the plan; where the zones lie on the panel is not written there."
    if panel.by_name:
        return (
            "Set in rows by the letter and in columns by the number of the zone's name; not to "
            "scale."
        )
    return "Rows and columns as the plan has them; not to scale."
