"""Small charts of plain characters: the same on a screen, without colour, and in a pipe. Pure."""

from __future__ import annotations

import numpy as np

from acquire.drift.history import Seen
from acquire.history.series import Floats

LEVELS = "_.-'^"
LEGEND = "course: _ . - ' ^ from lower to upper limit, ! beyond; the latest to the right"
ROWS = 9
LATEST = 24
LEAST_COLUMNS = 24


def course(seen: Seen) -> str:
    """The latest checks as a line of characters; a | where the meter was re-adjusted."""
    edge, series = seen.history.limit, seen.history.series
    first = max(0, len(series) - LATEST)
    cuts = {segment.start for segment in seen.outlook.segments if segment.start > first}
    told = ""
    for place in range(first, len(series)):
        part = float(series.deviation[place]) / edge
        told += "|" if place in cuts else ""
        told += "!" if abs(part) > 1 + 1e-9 else LEVELS[min(int((part + 1) / 2 * 5), 4)]
    return told


def chart(seen: Seen, columns: int = 72) -> list[str]:
    """The latest checks, one a column, between the limits; its legend is the last line.

    With a mark for a check that lies beyond a limit (X) or was the first after a re-adjustment or a
    change of certificate (o).
    """
    history, series = seen.history, seen.history.series
    limit, edge = history.limit, seen.outlook.edge
    # Room for a label is made for the larger of the limit and the farthest check.
    farthest = float(np.abs(series.deviation).max(initial=0.0))
    margin = max(len(_label(value)) for value in (limit, -limit, farthest, -farthest))
    room = max(LEAST_COLUMNS, columns - margin - 4)
    first = max(0, len(series) - room)
    shown = series.deviation[first:]
    top = max(limit, float(np.abs(shown).max(initial=0.0)))
    labels = {0: _label(top), ROWS // 2: "0", ROWS - 1: _label(-top)}
    rows = _rows(shown, top)
    cuts = {s.start - first for s in seen.outlook.segments if s.start > 0}
    lines = {_row(side * limit, top): "=" for side in (-1, 1)}
    lines[ROWS // 2] = "."
    if 0 < edge < limit:
        for side in (-1, 1):
            lines.setdefault(_row(side * edge, top), "-")
    told = []
    for row in range(ROWS):
        fill = lines.get(row, " ")
        body = "".join(
            _mark(float(value), limit, at in cuts) if here == row else fill
            for at, (here, value) in enumerate(zip(rows, shown.tolist(), strict=True))
        )
        told.append(f"{labels.get(row, ''):>{margin}} |{body}".rstrip())
    legend = "* a check, X beyond the limit, = limit"
    legend += ", - from here on undecided" if "-" in lines.values() else ""
    legend += ", o first check of a new stretch" if any(c >= 0 for c in cuts) else ""
    older = f" ({first} older checks are not shown)" if first else ""
    return [*told, f"{'':>{margin}}  {legend}{older}"]


def _mark(value: float, limit: float, is_cut: bool) -> str:
    if abs(value) > limit * (1 + 1e-9):
        return "X"
    return "o" if is_cut else "*"


def _rows(values: Floats, top: float) -> list[int]:
    return [_row(value, top) for value in values.tolist()]


def _row(value: float, top: float) -> int:
    return round((1 - value / top) / 2 * (ROWS - 1))


def _label(value: float) -> str:
    """A figure of an axis, with the hyphen for a minus: it stands in every font."""
    return f"{value:+.3g}"
