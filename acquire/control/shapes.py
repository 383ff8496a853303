"""Rows as JSON objects."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from typing import Any

from acquire.store.rows import TABLES, Row


def row_item(row: Row) -> dict[str, Any]:
    """A stored row as an object; bytes as text with escapes."""
    return {"table": TABLES[type(row)], **stored_item(row._asdict())}


def stored_item(columns: Mapping[str, Any] | sqlite3.Row) -> dict[str, Any]:
    """The columns of a row, as they are in the stream of rows."""
    return {
        name: value.decode("ascii", "backslashreplace") if isinstance(value, bytes) else value
        for name, value in dict(columns).items()
    }
