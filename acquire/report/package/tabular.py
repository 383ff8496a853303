"""Tables of a package as CSV files (RFC 4180) with a schema each (Table Schema, Data Package 2.0).

Pure but for the stream that is written to; any thread.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Protocol

from acquire.report.package.cells import cell_of, is_decimal, is_fit_decimal
from acquire.report.package.shape import ColumnShape, TableShape
from acquire.report.rows.export import csv_cells
from acquire.report.words.columns import Column, Record

Json = dict[str, Any]

_UNITS = {
    "_utc_ns": ("ns", "nanoseconds since 1970-01-01T00:00:00Z"),
    "_mono_ns": ("ns", "nanoseconds of a clock that never steps, with a beginning of its own"),
    "_nm": ("nm", "wavelength"),
    "_hz": ("Hz", "values a second"),
    "_c": ("°C", ""),
    "_percent": ("%", ""),
    "_minutes": ("min", ""),
    "_bytes": ("B", ""),
}
OF_ROW = "in the column unit"


class Sink(Protocol):
    """What cells are written to."""

    def write(self, text: str, /) -> object: ...


def write_rows(sink: Sink, head: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    """Write a header and rows of finished cells."""
    plain = csv.writer(sink, lineterminator="\n")
    # Readers take a bare carriage return for the end of a row (RFC 4180, 2.6: such are quoted).
    quoted = csv.writer(sink, lineterminator="\n", quoting=csv.QUOTE_ALL)
    plain.writerow(head)
    for cells in rows:
        (quoted if any("\r" in cell for cell in cells) else plain).writerow(cells)


def table_cells(shape: TableShape, row: Sequence[Any], files: Mapping[int, str]) -> list[str]:
    """A row of the store as cells; `files` has the paths of files by the row's number."""
    return [
        files[row[0]]
        if column.name == shape.file_column
        else cell_of(value, column)
        for column, value in zip(shape.columns, row, strict=True)
    ]  # fmt: skip


def table_schema(shape: TableShape, rows: Sequence[Sequence[Any]]) -> Json:
    """The schema of a table; the rows say whether texts of numbers are all numbers."""
    fields = [
        _field(shape, column, [row[k] for row in rows]) for k, column in enumerate(shape.columns)
    ]
    found: Json = {"fields": fields, "primaryKey": ["id"]}
    keys = [
        {
            "fields": [key.column],
            "reference": {"resource": resource_name(key.table), "fields": [key.target]},
        }
        for key in shape.keys
    ]
    return found | ({"foreignKeys": keys} if keys else {})


def resource_name(table: str) -> str:
    """The name of a table's resource; the standard wants small letters, digits, ``._-/``."""
    return table.replace("_", "-")


def _field(shape: TableShape, column: ColumnShape, values: Sequence[Any]) -> Json:
    found: Json = {"name": column.name, "type": "string"}
    if column.type == "INTEGER":
        found["type"] = "integer"
    elif column.type == "REAL" or (
        is_decimal(column) and all(v is None or is_fit_decimal(v) for v in values)
    ):
        found["type"] = "number"
    elif column.type == "BLOB" and column.name != shape.file_column:
        found["format"] = "binary"
    unit, what = _unit(shape, column)
    said = [what] if what else []
    if column.name == shape.file_column:
        said.append("path of the file in this package")
    elif "format" in found:
        said.append("bytes in base64")
    elif found["type"] == "string":
        said.append("an apostrophe at its beginning is not part of the text")
    if said:
        found["description"] = "; ".join(said)
    if unit:
        found["unit"] = unit
    constraints: Json = {}
    # An empty text stands in an empty cell, which the standard takes for none.
    if not column.is_nullable and found["type"] != "string":
        constraints["required"] = True
    if column.name in shape.unique or column.name == "id":
        constraints["unique"] = True
    if column.name == "id":
        constraints["minimum"] = 1
    if column.enum:
        is_number = found["type"] == "integer"
        constraints["enum"] = [int(v) if is_number else v for v in column.enum]
    return found | ({"constraints": constraints} if constraints else {})


def _unit(shape: TableShape, column: ColumnShape) -> tuple[str, str]:
    for ending, told in _UNITS.items():
        if column.name.endswith(ending) and column.type != "BLOB":
            return told
    if column.type == "REAL" or is_decimal(column):
        if "unit" in shape.names:
            return OF_ROW, ""
        if column.name.endswith("_real") and "check" in shape.name:
            return "that of the checked quantity", ""
    return "", ""


def result_schema(columns: Sequence[Column], records: Sequence[Record]) -> Json:
    """The schema of a table of results: its columns with their meanings, typed by what is there."""
    return {"fields": [_result_field(c, [r[c.name] for r in records]) for c in columns]}


def _result_field(column: Column, values: Sequence[object]) -> Json:
    there = [v for v in values if v is not None]
    kind = "string"
    if not column.is_text and there:
        if all(isinstance(v, int) for v in there):
            kind = "integer"
        elif all(not isinstance(v, str) for v in there):
            kind = "number"
    return {"name": column.name, "type": kind, "description": column.meaning}


def result_cells(columns: Sequence[Column], record: Record) -> list[str]:
    """As `coatbench results` and `coatbench export` write them."""
    return csv_cells(record, columns)
