"""Rows of cells for a person or a program: a table that fits the terminal, or lines with tabs.

Nothing is cut. On a terminal that is too narrow for the last column it wraps, then goes below its
row, and where even that has no room each row is a paragraph. Main thread.
"""

from __future__ import annotations

import shutil
import sys
import textwrap
from collections.abc import Sequence

import click

from acquire.visible import visible

Cells = tuple[str, ...]
LEAST_LAST = 16
"""Fewer columns for the last cell than this would make a tower of it."""


def show_table(rows: Sequence[Cells]) -> None:
    """Print rows, the first of them the headings, to standard output."""
    columns = shutil.get_terminal_size().columns if sys.stdout.isatty() else None
    for text in listed(rows, columns):
        click.echo(visible(text, "\t"))


def listed(rows: Sequence[Cells], columns: int | None) -> list[str]:
    """The lines; `columns` is None where no person looks on: then a line a row, tabs between."""
    if columns is None:
        return ["\t".join(row) for row in rows]
    widths = [max(wide(row[i]) for row in rows) for i in range(len(rows[0]))]
    before = sum(widths[:-1]) + 2 * (len(widths) - 1)
    if before + widths[-1] <= columns or columns - before >= LEAST_LAST:
        return [line for row in rows for line in _beside(row, widths, columns)]
    if before - 2 <= columns:
        return [line for row in rows for line in _below(row, widths, columns)]
    return [line for row in rows for line in _paragraph(row, columns)]


def wide(text: str) -> int:
    """How many columns a text takes: signs of some scripts, and emoji, take two."""
    if text.isascii():
        return len(text)
    from rich.cells import cell_len  # noqa: PLC0415 - slow

    return cell_len(text)


def _row(cells: Cells, widths: Sequence[int]) -> str:
    return "  ".join(c + " " * (w - wide(c)) for c, w in zip(cells, widths, strict=False))


def _beside(row: Cells, widths: Sequence[int], columns: int) -> list[str]:
    """The last cell in its column, in as many lines as it needs."""
    head = _row(row[:-1], widths) + "  "
    parts = textwrap.wrap(row[-1], max(LEAST_LAST, columns - wide(head))) or [""]
    return [((head if i == 0 else " " * wide(head)) + p).rstrip() for i, p in enumerate(parts)]


def _below(row: Cells, widths: Sequence[int], columns: int) -> list[str]:
    """The last cell below its row; a heading says it in line where it has room."""
    line = _row(row[:-1], widths)
    if wide(line) + 2 + wide(row[-1]) <= columns:
        return [f"{line}  {row[-1]}".rstrip()]
    indent = " " * (widths[0] + 2)
    below = textwrap.wrap(row[-1], columns, initial_indent=indent, subsequent_indent=indent)
    return [line.rstrip(), *below]


def _paragraph(row: Cells, columns: int) -> list[str]:
    """The cells one after another, wrapped between words."""
    parts = [cell for cell in row if cell]
    lines = [parts[0]]
    for part in parts[1:]:
        if len(lines[-1]) + 2 + len(part) <= columns:
            lines[-1] += f"  {part}"
        else:
            lines += textwrap.wrap(part, columns, initial_indent="  ", subsequent_indent="  ")
    return lines
