"""The rows of a package, taken from its tables: typed by the real schema, held to their digests.

Nothing of what the package says of its own columns is believed. One thread; the limit for a cell is
one of the process's, and is put back.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any, NamedTuple

from acquire.errors import Fault, SettingsError
from acquire.report.package.cells import Value, value_of
from acquire.report.package.contents import Contents
from acquire.report.package.limits import MOST_CELL
from acquire.report.package.shape import TableShape, shapes
from acquire.report.package.source import NEXT, Source, lines_of, read_whole, safe_path
from acquire.report.package.writing import DIGESTS, row_digest

_MOST_FAULTS = 20

Row = tuple[Value, ...]


class Taken(NamedTuple):
    """Rows by table, in the order of `shapes`; `unlike` says which are not those packaged."""

    rows: dict[str, list[Row]]
    unlike: tuple[str, ...]


def taken_from(source: Source, contents: Contents) -> Taken:
    """All rows. Raises `SettingsError` with every fault of their form, up to twenty."""
    faults: list[Fault] = []
    rows: dict[str, list[Row]] = {}
    with _cells_up_to(MOST_CELL):
        for name in contents.tables:
            if name not in shapes():
                faults.append(Fault(name[:60], "a table that no store has", "a table of the store"))
        for shape in shapes().values():
            path = contents.tables.get(shape.name)
            rows[shape.name] = []
            if path is not None and path in source.sizes and len(faults) < _MOST_FAULTS:
                rows[shape.name] = _Table(source, shape, path, faults).rows()
        if faults:
            raise SettingsError("the package", faults[:_MOST_FAULTS], next_step=NEXT)
        return Taken(rows, tuple(_unlike(source, rows)))


@contextmanager
def _cells_up_to(most: int) -> Iterator[None]:
    before = csv.field_size_limit(most)
    try:
        yield
    finally:
        csv.field_size_limit(before)


class _Table:
    """One table on its way in; faults are gathered."""

    def __init__(self, source: Source, shape: TableShape, path: str, faults: list[Fault]) -> None:
        self._source = source
        self._shape = shape
        self._path = path
        self._faults = faults

    def rows(self) -> list[Row]:
        found: list[Row] = []
        seen: set[Value] = set()
        line = 0
        try:
            with self._source.open(self._path) as file:
                reader = csv.reader(lines_of(file, MOST_CELL), strict=True)
                head = next(reader, [])
                if not self._is_head(head):
                    return []
                for cells in reader:
                    line = reader.line_num
                    row = self._row(head, cells, line)
                    if row is not None and row[0] in seen:
                        self._fault(line, "id", f"{row[0]!r} once more", "each number once")
                    elif row is not None:
                        seen.add(row[0])
                        found.append(row)
                    if len(self._faults) >= _MOST_FAULTS:
                        break
        except (csv.Error, ValueError) as e:
            self._fault(line + 1, "", str(e)[:120], "CSV (RFC 4180) in UTF-8")
        return found

    def _is_head(self, head: Sequence[str]) -> bool:
        strange = [name for name in head if name not in self._shape.names]
        lacking = [c.name for c in self._shape.columns if not c.is_nullable and c.name not in head]
        if strange or lacking or len(set(head)) < len(head):
            got = ", ".join((strange or lacking or list(head))[:3])[:120]
            how = "columns" if strange else "no columns" if lacking else "a column twice:"
            self._fault(1, "", f"{how} {got}", ", ".join(self._shape.names))
            return False
        return True

    def _row(self, head: Sequence[str], cells: Sequence[str], line: int) -> Row | None:
        if len(cells) != len(head):
            self._fault(line, "", f"{len(cells)} cells", f"{len(head)} cells, as the header has")
            return None
        by_name = dict(zip(head, cells, strict=True))
        values: list[Value] = []
        for column in self._shape.columns:
            cell = by_name.get(column.name, "")
            try:
                if column.name == self._shape.file_column:
                    values.append(self._file(cell))
                else:
                    values.append(value_of(cell, column))
            except ValueError as e:
                self._fault(line, column.name, repr(cell)[:80], str(e))
                return None
        if not isinstance(values[0], int) or values[0] < 1:
            self._fault(line, "id", repr(values[0]), "a number from 1 on")
            return None
        return tuple(values)

    def _file(self, path: str) -> bytes:
        return read_whole(self._source, safe_path(path), MOST_CELL)

    def _fault(self, line: int, column: str, got: str, wanted: str) -> None:
        where = f"{self._path} line {line}" + (f", {column}" if column else "")
        self._faults.append(Fault(where, got, wanted))


def _unlike(source: Source, rows: dict[str, list[Row]]) -> Iterator[str]:
    """Rows that are not those packaged, in words: changed, missing, or put in."""
    known: dict[tuple[str, int], str] = {}
    if DIGESTS in source.sizes:
        with source.open(DIGESTS) as file:
            reader = csv.reader(lines_of(file, MOST_CELL))
            next(reader, None)
            for cells in reader:
                if len(cells) == 3 and cells[1].isdecimal() and len(cells[1]) < 20:
                    known[cells[0], int(cells[1])] = cells[2]
    for table, own in rows.items():
        for row in own:
            key = (table, _id(row))
            was = known.pop(key, None)
            if was is None:
                yield f"{table} {key[1]} was put in"
            elif was != row_digest(row, table):
                yield f"{table} {key[1]} was changed"
    for table, number in known:
        yield f"{table[:40]} {number} is missing"


def _id(row: Sequence[Any]) -> int:
    number = row[0]
    assert isinstance(number, int)
    return number
