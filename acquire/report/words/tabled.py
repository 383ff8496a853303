"""A table in finished texts, for terminal and page. Facts only; light to import."""

from __future__ import annotations

from typing import NamedTuple

Cells = tuple[str, ...]
NONE = "–"
"""What stands in a cell that has nothing to say."""

MARK = "TOO LATE"
"""Stands beside every figure with a reading that was taken when its surface was gone."""

BEYOND_MARK = "OUT OF RANGE"
"""Stands beside every mean of which presses lay out of the meter's range: it is one-sided."""


class Table(NamedTuple):
    """A heading, and rows of which the first has the names of the columns."""

    title: str
    rows: tuple[Cells, ...]
