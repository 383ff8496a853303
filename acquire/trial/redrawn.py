"""Whether the zones of a plan are those of its draw: anybody can deal them again. Pure."""

from __future__ import annotations

from acquire.model import Plan
from acquire.trial.dealing import Grid, Place, dealt


def is_as_drawn(plan: Plan) -> bool | None:
    """Whether design, seed and treatments of a plan give its zones.

    None where that cannot be told: no draw is on record, or zones lie in no full grid. The name of
    a zone says nothing here, its place does.
    """
    if plan.layout is None:
        return None
    panels = tuple(panel.id for panel in plan.panels)
    rows = max((zone.row or 0 for zone in plan.zones), default=0)
    columns = max((zone.column or 0 for zone in plan.zones), default=0)
    grid = Grid(panels, rows, columns)
    one = panels[0] if len(panels) == 1 else ""
    found = {
        Place(zone.panel or one, zone.row, zone.column): zone.treatment
        for zone in plan.zones
        if zone.row is not None and zone.column is not None
    }
    if not grid.zones == len(found) == len(plan.zones):
        return None
    treatments = [t.id for t in plan.treatments]
    try:
        drawn = dealt(treatments, plan.control.id, grid, plan.layout.design, plan.layout.seed)
    except ValueError:
        return False
    return all(
        found.get(Place(zone.panel, zone.row or 0, zone.column or 0)) == zone.treatment
        for zone in drawn
    )
