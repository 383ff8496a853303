"""Whether a store has its own tables, indexes, views and triggers: those the migrations make."""

from __future__ import annotations

import sqlite3
from functools import cache

from acquire.store.blank import blank_store

Made = dict[tuple[str, str], str]
"""By type and name, the statement that made it."""


def other_guards(conn: sqlite3.Connection) -> tuple[list[str], list[str]]:
    """What is missing or changed in a store, and which triggers it has that are not its own.

    Tables, indexes and views that somebody added for themselves do no harm.
    """
    own, there = _own(), _made(conn)
    missing = [
        f"{kind} {name}" for (kind, name), sql in own.items() if there.get((kind, name)) != sql
    ]
    strange = [
        f"{kind} {name}" for kind, name in there if kind == "trigger" and (kind, name) not in own
    ]
    return missing, strange


@cache
def _own() -> Made:
    return _made(blank_store().conn)


def _made(conn: sqlite3.Connection) -> Made:
    rows = conn.execute(
        "SELECT type, name, sql FROM sqlite_master "
        "WHERE type IN ('table', 'index', 'view', 'trigger') "
        "AND name NOT LIKE 'sqlite!_%' ESCAPE '!' AND tbl_name <> '_sqlite_migrations'"
    ).fetchall()
    return {(kind, name): " ".join(sql.split()) for kind, name, sql in rows}
