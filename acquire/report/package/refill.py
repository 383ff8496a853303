"""Rows of a package put into a fresh store, under the guards of any store. Writes that store alone.

One guard is taken out while rows go in and made again as it was: that ids follow one another, for a
package has the rows of one trial out of many. All others look at every row: a reading counts only
under a valid pass, nothing is replaced, each row names rows that are there. Opening the store to
write then seals it as it is found. One thread.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from pathlib import Path

from acquire.report.package.shape import shapes
from acquire.report.package.taking import Row
from acquire.store import StoreWriter
from acquire.store.blank import copy_blank

_IN_ORDER = "_in_order"
_MOST_REFUSED = 10


def refill(store: Path, rows: Mapping[str, Sequence[Row]]) -> tuple[str, ...]:
    """Make a store of the rows. Says which were refused and why; empty where none was."""
    conn = sqlite3.connect(store, isolation_level=None)
    try:
        copy_blank(conn)
        conn.execute("PRAGMA foreign_keys = ON")
        conn.execute("PRAGMA recursive_triggers = ON")
        # It is thrown away, or computed anew: nothing is lost with it.
        conn.execute("PRAGMA synchronous = OFF")
        conn.execute("BEGIN")
        guards = conn.execute(
            "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND name LIKE ?",
            (f"%{_IN_ORDER}",),
        ).fetchall()
        for name, _ in guards:
            conn.execute(f"DROP TRIGGER {name}")
        refused = _put(conn, rows)
        for _, sql in guards:
            conn.execute(sql)
        conn.execute("ROLLBACK" if refused else "COMMIT")
    finally:
        conn.close()
    if not refused:
        StoreWriter(store).close()
    return refused


def _put(conn: sqlite3.Connection, rows: Mapping[str, Sequence[Row]]) -> tuple[str, ...]:
    refused: list[str] = []
    for shape in shapes().values():
        marks = ", ".join("?" * len(shape.columns))
        names = ", ".join(shape.names)
        sql = f"INSERT INTO {shape.name} ({names}) VALUES ({marks})"  # noqa: S608 - our own names
        # As they were recorded: a row may name one before it.
        for row in sorted(rows[shape.name], key=_number):
            try:
                conn.execute(sql, row)
            except sqlite3.Error as e:
                refused.append(f"{shape.name} {_number(row)}: {e}")
                if len(refused) >= _MOST_REFUSED:
                    return tuple(refused)
    return tuple(refused)


def _number(row: Row) -> int:
    assert isinstance(row[0], int)
    return row[0]
