"""Panels and where the zones lie on them, and the draw that dealt the products. Any thread."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Annotated

from pydantic import BeforeValidator, Field

from acquire.errors import Fault
from acquire.model import Design, Layout, Panel
from acquire.schema import Id, Name, Schema, either, show, sound

MOST_PANELS = 50
MOST_ROWS = 500


class PanelTable(Schema):
    """``[panel]``, or one of several ``[[panel]]``, each with an id."""

    id: Id | None = None
    name: Name
    material: Name | None = None

    def panel(self) -> Panel:
        return Panel(self.id or "", self.name, self.material or "")


def _listed(value: object) -> object:
    return [value] if isinstance(value, dict) else value


Panels = Annotated[
    list[PanelTable],
    BeforeValidator(_listed),
    Field(min_length=1, max_length=MOST_PANELS, description="a table [panel]"),
]
"""One panel as a table or several as a list of tables."""

Place = Annotated[int, Field(ge=1, le=MOST_ROWS)]
"""A row, column or block, counted from 1."""


class LayoutTable(Schema):
    """``[layout]``, written by ``coatbench trial new``."""

    design: Annotated[Design, Field(strict=False)]
    seed: Annotated[int, Field(ge=0, lt=2**31)]

    def layout(self) -> Layout:
        return Layout(self.design, self.seed)


class ZoneTable(Schema):
    id: Id
    treatment: Id
    panel: Id | None = None
    row: Place | None = None
    column: Place | None = None
    block: Place | None = None


def panel_faults(panels: Sequence[PanelTable]) -> Iterator[Fault]:
    """Several panels need an id each, and each its own."""
    first: dict[str, int] = {}
    for index, panel in sound(panels, "id"):
        if panel.id is None:
            if len(panels) > 1:
                yield Fault(f"panel[{index}].id", "nothing", "an id, since there are several")
            continue
        if panel.id in first:
            wanted = f"an id of its own: panel[{first[panel.id]}] has this one"
            yield Fault(f"panel[{index}].id", show(panel.id), wanted)
        first.setdefault(panel.id, index)


def place_faults(zones: Sequence[ZoneTable], panels: Sequence[PanelTable]) -> Iterator[Fault]:
    """Zones on panels that are there, in places that are half given or taken twice."""
    known = [panel.id for _, panel in sound(panels, "id") if panel.id is not None]
    taken: dict[tuple[str | None, int, int], int] = {}
    for index, zone in sound(zones, "panel", "row", "column"):
        at = f"zone[{index}]"
        if zone.panel is not None and zone.panel not in known:
            wanted = f"the id of a panel: {either(known)}" if known else "no panel: none has an id"
            yield Fault(f"{at}.panel", show(zone.panel), wanted)
        elif zone.panel is None and len(panels) > 1 and known:
            yield Fault(f"{at}.panel", "nothing", f"the panel it is on: {either(known)}")
        if zone.row is None and zone.column is None:
            continue
        if zone.row is None or zone.column is None:
            missing = "row" if zone.row is None else "column"
            yield Fault(f"{at}.{missing}", "nothing", "row and column, or neither")
            continue
        place = zone.panel, zone.row, zone.column
        if place in taken:
            wanted = f"a place of its own: zone[{taken[place]}] is there"
            yield Fault(at, f"row {zone.row}, column {zone.column}", wanted)
        taken.setdefault(place, index)


def panel_words(panels: Sequence[Panel]) -> str:
    """All panels of a trial on one line."""
    return "; ".join(str(panel) for panel in panels)


def as_written(fault: Fault) -> Fault:
    """The path of a fault in a single ``[panel]``, which the file has as a table and no list."""
    return fault._replace(path=fault.path.replace("panel[0]", "panel", 1))
