"""An empty store, as the migrations make it: made once a process, copied into every new file.

Copying whole pages is far quicker than the statements of all migrations, which rename columns
beneath views and triggers. Any thread.
"""

from __future__ import annotations

import sqlite3
import threading

from sqlite_utils import Database

from acquire.store.schema import MIGRATIONS

_lock = threading.Lock()
_made: list[Database] = []


def copy_blank(into: sqlite3.Connection) -> None:
    """Make an empty database an empty store, whole or not at all. Raises `sqlite3.Error`."""
    blank = blank_store()
    with _lock:
        blank.conn.backup(into)


def blank_store() -> Database:
    """The empty store in memory, to be looked at alone."""
    with _lock:
        if not _made:
            conn = sqlite3.connect(":memory:", check_same_thread=False)
            db = Database(conn, execute_plugins=False)
            MIGRATIONS.apply(db)
            _made.append(db)
        return _made[0]
