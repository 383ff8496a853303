"""The values of rows as cells of CSV, and back to the very same values. Pure; any thread.

An empty cell is no value where the schema allows none, else an empty text. A text that a
spreadsheet would take for a formula has an apostrophe before it, and so has one that begins with an
apostrophe, or is empty where an empty cell means no value; one apostrophe is taken off when it is
read. Numbers are never touched: an integer is written as such, a REAL with as many digits as tell
it from its neighbours (Python's ``repr``), a decimal as recorded, bytes as base64 (RFC 4648).
"""

from __future__ import annotations

import base64
import binascii
import math
import re
from decimal import Decimal

from acquire.report.package.shape import ColumnShape

Value = int | float | str | bytes | None

DECIMALS = frozenset((
    "value", "expanded_uncertainty", "coverage_factor", "mean", "spread", "certified", "deviation",
    "limit_", "spread_limit", "departure", "temperature_c", "humidity_percent", "step", "rate_hz",
    "haze_minutes",
))  # fmt: skip
"""Columns of text that hold decimals, every digit as recorded."""

_FORMULA = re.compile(r"[\x00-\x1f\x7f-\x9f\u200b\ufeff]*[=+\-@]|[\t\r\n']")
_DECIMAL = re.compile(r"-?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d{1,3})?", re.ASCII)
_INTEGER = re.compile(r"-?\d{1,19}", re.ASCII)
_REAL = re.compile(r"-?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d{1,3})?", re.ASCII)
_LONGEST_DECIMAL = 120
_LARGEST_EXPONENT = 60
"""What any instrument sends lies far inside; what does not would make arithmetic take for ever."""


def is_decimal(column: ColumnShape) -> bool:
    """Whether the texts of a column are decimals."""
    return column.type == "TEXT" and column.name in DECIMALS


def cell_of(value: Value, column: ColumnShape) -> str:
    """The cell of a value."""
    if value is None:
        return ""
    if isinstance(value, bytes):
        return base64.b64encode(value).decode("ascii")
    if isinstance(value, str):
        if is_decimal(column) and value:
            return value
        return f"'{value}" if _FORMULA.match(value) or (not value and column.is_nullable) else value
    return repr(value)


def value_of(cell: str, column: ColumnShape) -> Value:
    """The value of a cell. Raises ValueError with what was wanted."""
    if not cell and column.is_nullable:
        return None
    if column.type == "INTEGER":
        number = int(cell) if _INTEGER.fullmatch(cell) else 2**63
        if not -(2**63) <= number < 2**63:
            raise ValueError("an integer of 64 bits")
        return number
    if column.type == "REAL":
        real = float(cell) if _REAL.fullmatch(cell) else math.inf
        if not math.isfinite(real):
            raise ValueError("a finite number")
        return real
    if column.type == "BLOB":
        try:
            return base64.b64decode(cell.encode("ascii"), validate=True)
        except (binascii.Error, UnicodeEncodeError):
            raise ValueError("bytes in base64") from None
    if is_decimal(column) and cell not in ("", "'"):
        if not is_fit_decimal(cell):
            raise ValueError("a decimal number")
        return cell
    return cell.removeprefix("'")


def is_fit_decimal(text: str) -> bool:
    """Whether a text is a decimal that can be reckoned with."""
    if len(text) > _LONGEST_DECIMAL or not _DECIMAL.fullmatch(text):
        return False
    return abs(Decimal(text).adjusted()) <= _LARGEST_EXPONENT or Decimal(text) == 0
