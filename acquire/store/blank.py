"""An empty store, as the migrations make it: made once a process, copied into every new file.

Copying whole pages is far quicker than the statements of all migrations, which rename columns
beneath views and triggers. Any thread.
"""

from __future__ import annotations

import sqlite3
import threading

from acquire.store.database import Database
from acquire.store.schema import MIGRATIONS

_lock = threading.Lock()
_made: list[Database] = []


def copy_blank(into: sqlite3.Connection) -> None:
    """Make an empty database an empty store, whole or not at all. Raises `sqlite3.Error`.

    A program that has the file open is waited for as long as by any statement of `into`.
    """
    blank = blank_store()
    with _lock:
        if _page_size(into) != _page_size(blank.conn):
            # A file with a write-ahead journal keeps the size of its pages, and could take none.
            into.execute("PRAGMA journal_mode = DELETE").fetchall()
        blank.conn.backup(into, progress=_refuse_lock)


def _page_size(conn: sqlite3.Connection) -> int:
    return int(conn.execute("PRAGMA page_size").fetchone()[0])


def _refuse_lock(status: int, _remaining: int, _total: int) -> None:
    """A copy would try again for ever while somebody holds the file; it has waited already."""
    if status in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        raise sqlite3.OperationalError("database is locked")


def blank_store() -> Database:
    """The empty store in memory, to be looked at alone."""
    with _lock:
        if not _made:
            conn = sqlite3.connect(":memory:", check_same_thread=False)
            db = Database(conn, execute_plugins=False)
            MIGRATIONS.apply(db)
            _made.append(db)
        return _made[0]
