"""A panel in plain characters: a grid of zones, each with what is on it and how far it has come.

Three ways, by what fits: a few lines a zone, one line a zone on a panel of many rows, two signs a
zone on one of many columns. Pure: no terminal is asked, nothing is printed. Widths are those of
terminal cells, so that names with wide signs stay in their columns.
"""

from __future__ import annotations

import string
from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import NamedTuple

from rich.cells import cell_len, set_cell_size

from acquire.trial.places import OnPanel, Spot

LEAST_CELL, WIDEST_CELL = 9, 18
TALLEST = 5
"""Rows up to which a zone has several lines; beyond it has one."""
MOST_ROWS = 26
"""Rows that are drawn where not all are asked for."""
CONTROL_MARK = "-"
_MARKS = string.ascii_letters


class Content(NamedTuple):
    """What is drawn of a zone: a few lines, one line, or two signs: of treatment and state.

    `signs` is empty where there are more treatments than letters.
    """

    lines: Sequence[str]
    brief: str
    signs: str


def marks(treatments: Sequence[str], control: str) -> dict[str, str]:
    """A letter for each treatment; empty where there are not enough."""
    others = [t for t in treatments if t != control]
    if len(others) > len(_MARKS):
        return {}
    return {control: CONTROL_MARK, **dict(zip(others, _MARKS, strict=False))}


def needs_marks(panel: OnPanel, columns: int) -> bool:
    """Whether a panel has too many columns for cells with names in them."""
    return bool(panel.spots) and _room(panel, columns) < LEAST_CELL


def is_brief(panel: OnPanel) -> bool:
    """Whether zones have one line, so that their state is a sign."""
    return not panel.spots or panel.rows > TALLEST


def drawn(panel: OnPanel, zones: Mapping[str, Content], columns: int, *, whole: bool) -> list[str]:
    """The panel in at most so many terminal columns.

    Without `whole` the rows in the middle of a long panel are left out, and that is said. Where
    nothing says where zones lie they follow one another.
    """
    if not panel.spots:
        return _listed([zones[zone.id].brief for zone in panel.zones], columns)
    placed = {panel.spots[zone.id]: zones[zone.id] for zone in panel.zones}
    if needs_marks(panel, columns) and all(c.signs for c in placed.values()):
        return _as_signs(panel, placed, columns, whole=whole)
    return _as_cells(panel, placed, columns, whole=whole)


def _room(panel: OnPanel, columns: int) -> int:
    return (columns - 1) // panel.columns - 3


def _as_cells(
    panel: OnPanel, placed: Mapping[Spot, Content], columns: int, *, whole: bool
) -> list[str]:
    one_line = is_brief(panel)
    cells = {spot: [c.brief] if one_line else c.lines for spot, c in placed.items()}
    widest = max(cell_len(text) for own in cells.values() for text in own)
    width = max(LEAST_CELL, min(WIDEST_CELL, widest))
    if LEAST_CELL <= _room(panel, columns) < width:
        width = _room(panel, columns)
    height = len(next(iter(cells.values())))
    empty = [""] * height
    found: list[str] = []
    for band in _bands(panel, max(1, (columns - 1) // (width + 3)), found):
        rule = "+" + "+".join("-" * (width + 2) for _ in band) + "+"
        found.append(rule)
        shown, skipped = _shown_rows(panel.rows, whole=whole)
        for row in shown:
            if row == 0:
                found += [_left_out(skipped), rule]
                continue
            for line in range(height):
                own = [cells.get(Spot(row, column), empty)[line] for column in band]
                found.append("|" + "|".join(f" {cut(text, width)} " for text in own) + "|")
            if height > 1 or row == panel.rows:
                found.append(rule)
    return found


def _as_signs(
    panel: OnPanel, placed: Mapping[Spot, Content], columns: int, *, whole: bool
) -> list[str]:
    """A row a line, named by its first zone."""
    first = {zone.id: panel.spots[zone.id] for zone in reversed(panel.zones)}
    labels = {
        row: min((s.column, name) for name, s in first.items() if s.row == row)[1]
        for row in {s.row for s in first.values()}
    }
    room = min(16, max(map(cell_len, labels.values())))
    found: list[str] = []
    for band in _bands(panel, max(1, (columns - room - 1) // 4), found):
        found.append(" " * room + "".join(f" {column:>3}" for column in band))
        shown, skipped = _shown_rows(panel.rows, whole=whole)
        for row in shown:
            if row == 0:
                found.append(_left_out(skipped))
                continue
            own = [placed.get(Spot(row, column)) for column in band]
            signs = "".join(f"  {c.signs if c is not None else '':<2}" for c in own)
            found.append(f"{cut(labels[row], room)}{signs}".rstrip())
    return found


def _bands(panel: OnPanel, per_band: int, found: list[str]) -> list[range]:
    """The columns, as many at a time as fit; says so above where not all do."""
    if per_band < panel.columns:
        found.append(f"{per_band} of {panel.columns} columns at a time")
    return [
        range(first, min(first + per_band, panel.columns + 1))
        for first in range(1, panel.columns + 1, per_band)
    ]


def _left_out(rows: int) -> str:
    return f"  ... {rows} rows not shown (--all)"


def _shown_rows(rows: int, *, whole: bool) -> tuple[list[int], int]:
    """The rows that are drawn, 0 where some are left out, and how many those are."""
    if whole or rows <= MOST_ROWS:
        return list(range(1, rows + 1)), 0
    head = MOST_ROWS - 4
    return [*range(1, head + 1), 0, rows - 1, rows], rows - head - 2


def _listed(texts: Sequence[str], columns: int) -> list[str]:
    width = min(max(map(cell_len, texts)), columns)
    per_line = max(1, (columns + 2) // (width + 2))
    groups = groupby(enumerate(texts), key=lambda entry: entry[0] // per_line)
    return ["  ".join(cut(text, width) for _, text in own).rstrip() for _, own in groups]


def cut(text: str, width: int) -> str:
    """The text in exactly so many terminal cells; two dots where something is left out."""
    if cell_len(text) <= width:
        return set_cell_size(text, width)
    return set_cell_size(set_cell_size(text, width - 2).rstrip() + "..", width)
