"""A panel in plain characters: a grid of zones, each with what is on it and how far it has come.

Pure: no terminal is asked, nothing is printed. Widths are those of terminal cells, so that names
with wide signs stay in their columns.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import groupby

from rich.cells import cell_len, set_cell_size

from acquire.trial.places import OnPanel, Spot

LEAST_CELL, WIDEST_CELL = 7, 18
TALLEST = 10
"""Rows up to which a zone has several lines; beyond it has one."""
MOST_ROWS = 26
"""Rows that are drawn where not all are asked for."""

Lines = Callable[[str], Sequence[str]]
"""The lines of a zone by its id; as many for each."""


def drawn(panel: OnPanel, lines: Lines, brief: Lines, columns: int, *, whole: bool) -> list[str]:
    """The panel in at most so many terminal columns.

    `lines` are those of a zone, `brief` its one line where the panel has many rows. Without
    `whole` the rows in the middle of a long panel are left out, and that is said. Where nothing
    says where zones lie they follow one another.
    """
    if not panel.spots:
        return _listed(panel, brief, columns)
    content = lines if panel.rows <= TALLEST else brief
    cells = {panel.spots[zone.id]: content(zone.id) for zone in panel.zones}
    widest = max(cell_len(text) for own in cells.values() for text in own)
    width = max(LEAST_CELL, min(WIDEST_CELL, widest))
    per_band = max(1, (columns - 1) // (width + 3))
    shown, skipped = _shown_rows(panel.rows, whole=whole)
    height = len(next(iter(cells.values())))
    found: list[str] = []
    for first in range(1, panel.columns + 1, per_band):
        band = range(first, min(first + per_band, panel.columns + 1))
        if len(band) < panel.columns:
            found.append(f"columns {band[0]} to {band[-1]} of {panel.columns}")
        rule = "+" + "+".join("-" * (width + 2) for _ in band) + "+"
        found.append(rule)
        for row in shown:
            if row == 0:
                found += [f"  ... {skipped} rows not shown; --all draws them", rule]
                continue
            for line in range(height):
                own = [cells.get(Spot(row, column), [""] * height)[line] for column in band]
                found.append("|" + "|".join(f" {cut(text, width)} " for text in own) + "|")
            if height > 1 or row == panel.rows:
                found.append(rule)
    return found


def _shown_rows(rows: int, *, whole: bool) -> tuple[list[int], int]:
    """The rows that are drawn, 0 where some are left out, and how many those are."""
    if whole or rows <= MOST_ROWS:
        return list(range(1, rows + 1)), 0
    head = MOST_ROWS - 4
    return [*range(1, head + 1), 0, rows - 1, rows], rows - head - 2


def _listed(panel: OnPanel, brief: Lines, columns: int) -> list[str]:
    texts = [brief(zone.id)[0] for zone in panel.zones]
    width = min(max(map(cell_len, texts)), columns)
    per_line = max(1, (columns + 2) // (width + 2))
    groups = groupby(enumerate(texts), key=lambda entry: entry[0] // per_line)
    return ["  ".join(cut(text, width) for _, text in own).rstrip() for _, own in groups]


def cut(text: str, width: int) -> str:
    """The text in exactly so many terminal cells; two dots where something is left out."""
    if cell_len(text) <= width:
        return set_cell_size(text, width)
    return set_cell_size(set_cell_size(text, width - 2).rstrip() + "..", width)
