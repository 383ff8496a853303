"""Hands that edit what lies beside the daemon: its store, and the files that it was started from.

Each edit of a store is done as somebody would who knows SQLite and puts the guards back in place;
it gives what ``coatbench store verify`` must name.
"""

from __future__ import annotations

import random
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path


def copy_of(store: Path, to: Path) -> Path:
    """A whole copy of a store, with all that is committed, also while a daemon records."""
    to.unlink(missing_ok=True)
    with closing(sqlite3.connect(store)) as here, closing(sqlite3.connect(to)) as there:
        here.backup(there)
    return to


def without_guards(store: Path, change: Callable[[sqlite3.Connection], None]) -> None:
    """Change a store behind its guards, and put them back as they were."""
    with closing(sqlite3.connect(store, isolation_level=None)) as conn:
        conn.execute("PRAGMA busy_timeout = 10000")
        conn.execute("BEGIN IMMEDIATE")
        guards = conn.execute(
            "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
        ).fetchall()
        for name, _ in guards:
            conn.execute(f"DROP TRIGGER {name}")
        change(conn)
        for _, sql in guards:
            conn.execute(sql)
        conn.execute("COMMIT")


def _last(conn: sqlite3.Connection, table: str, where: str = "1 = 1") -> int:
    (found,) = conn.execute(f"SELECT max(id) FROM {table} WHERE {where}").fetchone()
    assert found is not None, f"nothing to edit in {table} where {where}"
    return int(found)


def _set(table: str, what: str, where: str = "1 = 1") -> Callable[[sqlite3.Connection], str]:
    def edit(conn: sqlite3.Connection) -> str:
        row = _last(conn, table, where)
        conn.execute(f"UPDATE {table} SET {what} WHERE id = ?", (row,))
        return f"{table} {row} is not what was recorded"

    return edit


def _delete(conn: sqlite3.Connection) -> str:
    row = _last(conn, "reading") - 1
    conn.execute("DELETE FROM reading WHERE id = ?", (row,))
    return f"reading {row} is missing"


def _insert(conn: sqlite3.Connection) -> str:
    row = _last(conn, "reading")
    names = [found[1] for found in conn.execute("PRAGMA table_info(reading)")]
    rest = ", ".join(names[1:])
    conn.execute(f"INSERT INTO reading SELECT {row + 1}, {rest} FROM reading WHERE id = {row}")
    return f"reading {row + 1} was put in by another program"


def _assign(conn: sqlite3.Connection) -> str:
    (last,) = conn.execute("SELECT coalesce(max(id), 0) FROM assignment").fetchone()
    check = _last(conn, "check_judgement", "outcome = 'pass'")
    (check_id,) = conn.execute(
        "SELECT check_id FROM check_judgement WHERE id = ?", (check,)
    ).fetchone()
    free = "role = 'loose' AND id NOT IN (SELECT reading_id FROM assignment)"
    loose = _last(conn, "reading", free)
    conn.execute(
        "INSERT INTO assignment VALUES (?, 1, ?, 1, 'A2', 'bare', 59, ?, 0, 'let it count')",
        (last + 1, loose, check_id),
    )
    return f"assignment {last + 1} was put in by another program"


def _remark(conn: sqlite3.Connection) -> str:
    (last,) = conn.execute("SELECT coalesce(max(id), 0) FROM note").fetchone()
    conn.execute("INSERT INTO note VALUES (?, 1, NULL, '', '', 'all was well')", (last + 1,))
    return f"note {last + 1} was put in by another program"


def _no_guard(conn: sqlite3.Connection) -> str:
    conn.execute("DROP TRIGGER IF EXISTS reading_needs_a_pass")
    return "without trigger reading_needs_a_pass"


Edit = Callable[[sqlite3.Connection], str]
EDITS: dict[str, Edit] = {
    "a value": _set("reading", "value = '99.9', value_real = 99.9", "role = 'run'"),
    "a loose one made to count": _set("reading", "at_utc_ns = at_utc_ns - 1", "role = 'loose'"),
    "a reading taken away": _delete,
    "a reading put in": _insert,
    "an assignment put in": _assign,
    "a remark put in": _remark,
    "a verdict": _set("check_judgement", "message = 'all is well'"),
    "a time of a pass": _set("check_judgement", "expires_utc_ns = 1 << 61", "outcome = 'pass'"),
    "what a check found": _set("piece_judgement", "deviation = deviation || '1'"),
    "a policy of then": _set("check_begin", "policy_json = replace(policy_json, '1', '9')"),
    "a certificate": _set("certificate", "value = '93.9'", "piece = 'T1'"),
    "bytes of a tape": _set("tape", "bytes = x'39392e390a'"),
    "a seal": _set("seal", "stretches = ''", "stretches <> ''"),
}
"""By name: the edit, and what must be named."""


def edited(store: Path, names: list[str]) -> list[str]:
    """Edit a store that nobody writes to, by these; gives what may be named as the first misfit."""
    told: list[str] = []

    def change(conn: sqlite3.Connection) -> None:
        told.extend(EDITS[name](conn) for name in names)

    without_guards(store, change)
    return told


def unguarded(store: Path) -> str:
    """Take a guard out of a store, and do not put it back."""
    with closing(sqlite3.connect(store)) as conn, conn:
        return _no_guard(conn)


def refused_in_place(store: Path, chance: random.Random) -> str:
    """Try to edit a store through its guards; gives what let it through, else nothing."""
    statements = [
        "UPDATE reading SET value = '99.9' WHERE id = 1",
        "DELETE FROM reading WHERE id = 1",
        "INSERT OR REPLACE INTO reading SELECT * FROM reading WHERE id = 1",
        "UPDATE check_judgement SET outcome = 'pass', expires_utc_ns = 1 << 61",
        "DELETE FROM pass_end",
        "DELETE FROM seal",
        "UPDATE certificate SET value = '0'",
        "DELETE FROM void",
    ]
    with closing(sqlite3.connect(store)) as conn:
        for sql in chance.sample(statements, len(statements)):
            try:
                done = conn.execute(sql).rowcount
            except sqlite3.IntegrityError:
                continue
            finally:
                conn.rollback()
            if done:
                return f"the store let through: {sql}"
    return ""
