"""Whatever a row holds, its cells in CSV give it back, to the last digit and sign."""

from __future__ import annotations

import csv
import io
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.report.package.cells import Value, cell_of, value_of
from acquire.report.package.shape import ColumnShape
from acquire.report.package.tabular import write_rows

_TEXTS = st.one_of(
    st.text(st.characters(exclude_categories=("Cs",)), max_size=30),
    st.sampled_from(["", "'", "''", "=1+1", "-5", "+x", "@a", "\t", "\r", "\r\n", "NULL", "0",
                     '"', ","]),
)  # fmt: skip
_VALUES = {
    "TEXT": _TEXTS,
    "INTEGER": st.integers(-(2**63), 2**63 - 1),
    "REAL": st.floats(allow_nan=False, allow_infinity=False),
    "BLOB": st.binary(max_size=30),
}
_DECIMALS = st.decimals(
    allow_nan=False, allow_infinity=False, min_value=-(10**9), max_value=10**9, places=4
).map(str)


@st.composite
def _columns(draw: st.DrawFn) -> tuple[ColumnShape, Value]:
    kind = draw(st.sampled_from(sorted(_VALUES)))
    is_nullable = draw(st.booleans())
    is_decimal = kind == "TEXT" and draw(st.booleans())
    values = st.one_of(st.just(""), _DECIMALS) if is_decimal else _VALUES[kind]
    value = draw(st.one_of(st.none(), values) if is_nullable else values)
    name = "value" if is_decimal else "note"
    # Bytes of no length and none at all are one cell: no table may have both.
    if kind == "BLOB" and is_nullable and value == b"":
        value = None
    return ColumnShape(name, kind, is_nullable, ()), value


@given(st.lists(_columns(), min_size=2, max_size=6))
def test_a_row_comes_back_from_its_cells(row: list[tuple[ColumnShape, Value]]) -> None:
    out = io.StringIO(newline="")
    write_rows(out, [f"c{k}" for k in range(len(row))], [[cell_of(v, c) for c, v in row]])
    (_, cells) = csv.reader(io.StringIO(out.getvalue(), newline=""), strict=True)
    for (column, value), cell in zip(row, cells, strict=True):
        found = value_of(cell, column)
        assert type(found) is type(value)
        assert found == value
        assert not (isinstance(value, float) and math.copysign(1, value) != math.copysign(1, found))  # type: ignore[arg-type]


@given(_TEXTS)
def test_no_text_begins_as_a_formula(text: str) -> None:
    cell = cell_of(text, ColumnShape("note", "TEXT", False, ()))
    assert not cell.lstrip("\x00").startswith(("=", "+", "-", "@", "\t", "\r", "\n"))


@pytest.mark.parametrize(
    ("kind", "name", "cell", "wanted"),
    [
        ("INTEGER", "id", "9" * 30, "64 bits"),
        ("INTEGER", "id", "9223372036854775808", "64 bits"),
        ("INTEGER", "id", "1.0", "64 bits"),
        ("INTEGER", "id", "٣", "64 bits"),
        ("INTEGER", "id", "", "64 bits"),
        ("REAL", "x", "1e999", "finite"),
        ("REAL", "x", "nan", "finite"),
        ("REAL", "x", "0x10", "finite"),
        ("BLOB", "raw", "not base64!", "base64"),
        ("BLOB", "raw", "é", "base64"),
        ("TEXT", "value", "1E+999999999", "decimal"),
        ("TEXT", "value", "=1+1", "decimal"),
        ("TEXT", "value", "9" * 500, "decimal"),
        ("TEXT", "value", "NaN", "decimal"),
    ],
)
def test_a_cell_of_another_kind_is_refused(kind: str, name: str, cell: str, wanted: str) -> None:
    with pytest.raises(ValueError, match=wanted):
        value_of(cell, ColumnShape(name, kind, False, ()))
