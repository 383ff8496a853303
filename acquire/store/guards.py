"""Whether a store has its own tables, indexes, views and triggers: those the migrations make."""

from __future__ import annotations

import hashlib
import sqlite3
from functools import cache

OWN = "d57c5e7029e9e5fdc28b50cfe8c113269d3953b42e99cd600abdc265558a3f7e"
"""The digest of `own_guards`: a store that has just these is not compared with one made anew, which
takes a tenth of a second. Any other is, so that one out of date costs that time and no more."""
Made = dict[tuple[str, str], str]
"""By type and name, the statement that made it."""


def other_guards(conn: sqlite3.Connection) -> tuple[list[str], list[str]]:
    """What is missing or changed in a store, and which triggers it has that are not its own.

    Tables, indexes and views that somebody added for themselves do no harm.
    """
    there = _made(conn)
    if digest_of(there) == OWN:
        return [], []
    own = own_guards()
    missing = [
        f"{kind} {name}" for (kind, name), sql in own.items() if there.get((kind, name)) != sql
    ]
    strange = [
        f"{kind} {name}" for kind, name in there if kind == "trigger" and (kind, name) not in own
    ]
    return missing, strange


@cache
def own_guards() -> Made:
    """Those that the migrations make."""
    from acquire.store.blank import blank_store  # noqa: PLC0415 - slow

    return _made(blank_store().conn)


def digest_of(made: Made) -> str:
    """The same for the same statements, in whatever order they were made."""
    lines = sorted(f"{kind} {name} {sql}" for (kind, name), sql in made.items())
    return hashlib.sha256("\0".join(lines).encode()).hexdigest()


def _made(conn: sqlite3.Connection) -> Made:
    rows = conn.execute(
        "SELECT type, name, sql FROM sqlite_master "
        "WHERE type IN ('table', 'index', 'view', 'trigger') "
        "AND name NOT LIKE 'sqlite!_%' ESCAPE '!' AND tbl_name <> '_sqlite_migrations'"
    ).fetchall()
    return {(kind, name): " ".join(sql.split()) for kind, name, sql in rows}
