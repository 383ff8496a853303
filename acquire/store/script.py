"""A script of SQL, statement by statement. Pure; any thread."""

from __future__ import annotations

import sqlite3


def statements(script: str) -> list[str]:
    """Split a script into whole statements; executescript would commit the open transaction."""
    found: list[str] = []
    rest = ""
    for line in script.splitlines(keepends=True):
        rest += line
        if sqlite3.complete_statement(rest):
            found.append(rest.strip())
            rest = ""
    if rest.strip():
        raise ValueError(f"an unfinished statement in the schema: {rest.strip()[:80]}")
    return [s for s in found if s]
