"""Tables of a page as tables of Markdown: one header each, every row with the header's columns.

A page groups rows under a line of their own and lets cells span columns, which Markdown has not:
each group becomes a table below its line, a spanning cell stands in its first column, and a remark
below a row becomes a line below the table. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from acquire.report.markdown.escaping import at_start
from acquire.report.markdown.inline import line_of
from acquire.report.markdown.tree import Element


class _Head(NamedTuple):
    cells: list[str]
    is_number: list[bool]


def table_blocks(table: Element) -> Iterator[str]:
    """The blocks that say what a table says."""
    whole = _Table()
    for part in table.children:
        if part.tag == "thead":
            yield from whole.flush()
            whole.head = _head(part.children[0])
            continue
        for row in part.children:
            if "group" in row.classes:
                yield from whole.flush()
                if said := " ".join(_group(row.children[0])):
                    yield at_start(said)
            elif "remark" in row.classes:
                whole.remark(line_of(row.children[0]))
            else:
                whole.rows.append(_cells(row))
    yield from whole.flush()


class _Table:
    def __init__(self) -> None:
        self.head = _Head([], [])
        self.rows: list[list[str]] = []
        self._remarks: list[str] = []

    def remark(self, text: str) -> None:
        of = f"{self.rows[-1][0]}: " if self.rows and self.rows[-1][0] else ""
        self._remarks.append(f"- {at_start(of + text)}")

    def flush(self) -> Iterator[str]:
        """What has come together so far; the header stays for the next group."""
        rows, remarks = self.rows, self._remarks
        self.rows, self._remarks = [], []
        if rows:
            yield written(self.head.cells, self.head.is_number, rows)
        if remarks:
            yield "\n".join(remarks)


def written(head: list[str], is_number: list[bool], rows: list[list[str]]) -> str:
    """A table of finished cells. A row of more or fewer cells than the head is brought to it."""
    width = len(head)
    rule = ["---:" if right else "---" for right in is_number]
    lines = [head, rule, *(_fit(row, width) for row in rows)]
    return "\n".join(f"| {' | '.join(cells)} |" for cells in lines)


def _fit(row: list[str], width: int) -> list[str]:
    if len(row) > width:
        row = [*row[: width - 1], " ".join(filter(None, row[width - 1 :]))]
    return row + [""] * (width - len(row))


def _head(row: Element) -> _Head:
    cells: list[str] = []
    is_number: list[bool] = []
    for cell in row.children:
        span = _span(cell)
        cells += [line_of(cell, True), *[""] * (span - 1)]
        is_number += ["n" in cell.classes] * span
    return _Head(cells, is_number)


def _cells(row: Element) -> list[str]:
    found: list[str] = []
    for cell in row.children:
        found += [line_of(cell, True), *[""] * (_span(cell) - 1)]
    return found


def _group(cell: Element) -> Iterator[str]:
    """The line of a group: its name with weight, what is said of it without."""
    small = [child for child in cell.children if child.tag == "small"]
    name = Element("th", {}, [part for part in cell.parts if part not in small])
    if said := line_of(name):
        yield f"**{said}**"
    yield from (text for part in small if (text := line_of(part)))


def _span(cell: Element) -> int:
    return int(cell.attributes.get("colspan", "1"))
