"""The moves of a run's cursor among its places: their table, and how older ones become it.

A run fills its places in the order of its plan, so that after a restart its readings alone say
where it stands. A row is written whenever anything else moved it: it holds the whole stand, and the
readings after it lead on from there.
"""

from __future__ import annotations

import json
import sqlite3

MOVE = """
CREATE TABLE move (
    id INTEGER PRIMARY KEY, at_utc_ns INTEGER NOT NULL,
    run_id INTEGER NOT NULL REFERENCES run(id),
    how TEXT NOT NULL
        CHECK (how IN ('skip', 'back', 'go to', 'void', 'assign', 'check', 'resume')),
    left_zone TEXT, left_replicate INTEGER, zone TEXT, replicate INTEGER,
    after_reading INTEGER NOT NULL, resume_zone TEXT, resume_replicate INTEGER,
    reopened TEXT NOT NULL CHECK (json_valid(reopened)),
    skipped TEXT NOT NULL CHECK (json_valid(skipped)),
    after_void INTEGER NOT NULL, after_judgement INTEGER NOT NULL
) STRICT;
CREATE INDEX move_run ON move (run_id);
"""


def old_moves(conn: sqlite3.Connection) -> list[tuple[object, ...]]:
    """Rows of the table as it was, when a hand alone moved, as rows of the table as it is."""
    skipped: dict[int, list[tuple[str, int]]] = {}
    rows: list[tuple[object, ...]] = []
    for old in conn.execute("SELECT * FROM move ORDER BY id").fetchall():
        _, at_utc_ns, run_id, how, left_zone, left_replicate, *_ = old
        of_run = skipped.setdefault(run_id, [])
        if how == "skip" and (left_zone, left_replicate) not in of_run:
            of_run.append((left_zone, left_replicate))
        lasts = (_last(conn, table, at_utc_ns) for table in ("void", "check_judgement"))
        rows.append((*old, None, None, "[]", json.dumps(of_run), *lasts))
    return rows


def _last(conn: sqlite3.Connection, table: str, at_utc_ns: int) -> int:
    """The last row of a table at a moment, by the clock: older moves do not say."""
    sql = f"SELECT coalesce(max(id), 0) FROM {table} WHERE at_utc_ns <= ?"  # noqa: S608
    return int(conn.execute(sql, (at_utc_ns,)).fetchone()[0])
