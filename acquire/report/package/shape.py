"""What the store's tables look like, asked of the schema itself: so a new table comes along.

Keeps the answers, since an empty store is the same for the whole process. Any thread.
"""

from __future__ import annotations

import re
from functools import cache
from typing import NamedTuple

from acquire.store.blank import blank_store
from acquire.store.rows import TABLES, Row


class ColumnShape(NamedTuple):
    """A column. `type` is that of SQLite; `enum` has the values that the schema allows, if few."""

    name: str
    type: str
    is_nullable: bool
    enum: tuple[str, ...]


class ForeignKey(NamedTuple):
    """A column that names a row of another table, by that one's column."""

    column: str
    table: str
    target: str


class TableShape(NamedTuple):
    """A table. `unique` are columns whose values are not repeated, the id apart.

    `file_column` has the bytes of a file, with its SHA-256 beside it; empty where there is none.
    """

    name: str
    kind: type[Row]
    columns: tuple[ColumnShape, ...]
    keys: tuple[ForeignKey, ...]
    unique: tuple[str, ...]
    names: tuple[str, ...]
    file_column: str

    def column(self, name: str) -> int:
        """The place of a column."""
        return self.names.index(name)


@cache
def shapes() -> dict[str, TableShape]:
    """All tables by name, in an order in which each comes after those that it needs.

    A table needs those that its rows name, and those that its guards look into.
    """
    found = {name: _shape(kind, name) for kind, name in TABLES.items()}
    needs = {name: _needs(name) & set(found) for name in found}
    ordered: dict[str, TableShape] = {}
    while len(ordered) < len(found):
        ready = [n for n in found if n not in ordered and needs[n] <= set(ordered)]
        # No table of the store needs itself by way of others.
        assert ready, sorted(set(found) - set(ordered))
        ordered |= {name: found[name] for name in ready}
    return ordered


def _needs(table: str) -> set[str]:
    conn = blank_store().conn
    named = {row[2] for row in conn.execute(f"PRAGMA foreign_key_list({table})")}
    for (sql,) in conn.execute(
        "SELECT sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name = ?", (table,)
    ):
        named |= set(re.findall(r"\b(?:FROM|JOIN)\s+(\w+)", sql))
    return named - {table}


def _shape(kind: type[Row], table: str) -> TableShape:
    conn = blank_store().conn
    sql = conn.execute("SELECT sql FROM sqlite_master WHERE name = ?", (table,)).fetchone()[0]
    enums = {
        name: tuple(part.strip().strip("'") for part in values.split(","))
        for name, values in re.findall(r"CHECK \((\w+) IN \(([^)]*)\)\)", sql)
    }
    columns = tuple(
        ColumnShape(name, type_, not is_required and not is_key, enums.get(name, ()))
        for _, name, type_, is_required, _, is_key in conn.execute(f"PRAGMA table_info({table})")
    )
    keys = tuple(
        ForeignKey(row[3], row[2], row[4] or "id")
        for row in conn.execute(f"PRAGMA foreign_key_list({table})")
    )
    unique = []
    for row in conn.execute(f"PRAGMA index_list({table})").fetchall():
        of = [one[2] for one in conn.execute(f"PRAGMA index_info({row[1]})")]
        if row[2] and len(of) == 1:
            unique.append(of[0])
    names = tuple(column.name for column in columns)
    return TableShape(
        table, kind, columns, tuple(sorted(keys)), tuple(sorted(unique)), names,
        "bytes" if {"bytes", "sha256"} <= set(names) else "",
    )  # fmt: skip
