"""The single writer of the store: appends rows, and nothing else.

One thread owns a writer. A batch goes in as one transaction with ``synchronous=FULL``: when
`append` returns, the rows are on disk. There is no way to change or delete a row here, and the
triggers of the schema refuse it to everybody else.
"""

from __future__ import annotations

import os
import sqlite3
import threading
from collections.abc import Iterable, Sequence
from itertools import chain, groupby
from pathlib import Path
from typing import NamedTuple

from filelock import FileLock, Timeout

from acquire.errors import StoreInUse, StoreUnwritable
from acquire.store.blank import copy_blank
from acquire.store.check_rows import CheckJudgementRow
from acquire.store.database import Database
from acquire.store.guards import other_guards
from acquire.store.heads import fold_behind, keep_head
from acquire.store.rows import TABLES, Row, RunEndRow
from acquire.store.schema import MIGRATIONS
from acquire.store.sealing import Sealing, Unsealed


class LockWaits(NamedTuple):
    """How long another program's write lock is waited for; what arrives meanwhile is queued.

    `hurried_s` is how long it is still waited for once the daemon is to end, `try_s` how long
    each try lasts.
    """

    usual_s: float = 30.0
    hurried_s: float = 5.0
    try_s: float = 1.0


LOCK_WAITS = LockWaits()

# Moving the journal into the file takes several syncs, and whoever presses just then waits for
# them. So it is done while nobody does anything (`rest`), and in a commit only after 16 MB.
CHECKPOINT_PAGES = 4000
REST_AFTER_COMMITS = 50

ROWS_A_STATEMENT = 32
"""So many rows of a flood go in at once: what a statement costs by itself is more than a row."""


def _insert(kind: type[Row], rows: int) -> str:
    """The statement that appends so many rows of a kind."""
    one = f"({', '.join('?' * len(kind._fields))})"
    return (
        f"INSERT INTO {TABLES[kind]} ({', '.join(kind._fields)}) "  # noqa: S608 - our own names
        f"VALUES {', '.join([one] * rows)}"
    )


_INSERTS = {kind: _insert(kind, 1) for kind in TABLES}
_MANY = {kind: _insert(kind, ROWS_A_STATEMENT) for kind in TABLES}

_MILESTONES = {CheckJudgementRow, RunEndRow}
"""With these the head of the chain is kept beside the store, too (`acquire.store.heads`)."""


class StoreWriter:
    """Opens or creates the store at `path`, brings its schema up to date, and appends.

    Raises `StoreInUse` if another daemon records into it and `StoreUnwritable` if it cannot be
    written (read-only, full disk, not a store, made by a newer Coatbench).
    """

    def __init__(self, path: Path, lock_waits: LockWaits = LOCK_WAITS) -> None:
        self.path = path
        # Where a link leads: two names of one file must not let two daemons in, and SQLite puts
        # the journal beside the file and not beside the link.
        self._file = path.resolve()
        # Looked at after each commit, so without taking a path apart each time.
        self._name, self._journal = str(path), f"{self._file}-wal"
        self._lock_waits = lock_waits
        self._lock = FileLock(f"{self._file}.lock", blocking=False, thread_local=False)
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            self._lock.acquire()
            _refuse_misplaced(self._file)
        except Timeout as e:
            raise StoreInUse(
                f"the store {path} is in use",
                got="another daemon recording into it",
                wanted="one daemon a store",
                next_step="use that daemon (coatbench status), stop it (coatbench stop), "
                "or name another store in bench.toml",
            ) from e
        except OSError as e:
            raise _unwritable(path, e) from e
        conn: sqlite3.Connection | None = None
        try:
            conn = sqlite3.connect(
                self._file, timeout=lock_waits.try_s, isolation_level=None, check_same_thread=False
            )
            self.db = Database(conn, execute_plugins=False)
            conn.execute("PRAGMA synchronous = FULL")
            conn.execute(f"PRAGMA wal_autocheckpoint = {CHECKPOINT_PAGES}")
            conn.execute("PRAGMA foreign_keys = ON")
            conn.execute("PRAGMA recursive_triggers = ON")
            if self._is_empty():
                copy_blank(conn)
            self._refuse_stranger()
            applied = self._applied()
            conn.execute("PRAGMA journal_mode = WAL")
            if not applied.issuperset(MIGRATIONS.names):
                MIGRATIONS.apply(self.db)
            self._refuse_other_guards()
            self._sealing = Sealing(conn)
            self._refuse_unsealed(self._begun())
            # Writable now, not only at the first reading.
            conn.execute("BEGIN IMMEDIATE")
            conn.execute("COMMIT")
        except BaseException as e:
            if conn is not None:
                conn.close()
            self._lock.release()
            if isinstance(e, sqlite3.Error):
                raise _unwritable(path, e) from e
            raise
        self._conn = conn
        # One for all that is written: a connection makes a new one for each statement.
        self._cursor = conn.cursor()
        self._hurried = threading.Event()
        self._closed = False
        self._commits = 0
        self._files = self._present()
        keep_head(self._file, self._sealing.head, self._sealing.fold)

    def _is_empty(self) -> bool:
        return not self.db.execute("SELECT 1 FROM sqlite_master LIMIT 1").fetchall()

    def _refuse_stranger(self) -> None:
        """A database of another program is not made into a store."""
        tables = {r[0] for r in self.db.execute("SELECT name FROM sqlite_master").fetchall()}
        if tables and "_sqlite_migrations" not in tables:
            raise StoreUnwritable(
                f"{self.path} is a database, but no store of Coatbench",
                got=f"tables {', '.join(sorted(tables)[:5])}",
                wanted="a store, an empty file or none",
                next_step="name another store in bench.toml",
            )

    def _refuse_other_guards(self) -> None:
        """Triggers that were dropped, changed or added would let rows be changed or swallowed."""
        missing, strange = other_guards(self.db.conn)
        if missing or strange:
            told = [f"without {name}" for name in missing] + [f"with {name}" for name in strange]
            raise StoreUnwritable(
                f"the guards of the store {self.path} are not those of Coatbench",
                got=", ".join(told[:6]),
                wanted="its tables, indexes, views and triggers as they were made",
                next_step="keep this file for inspection, go on with a copy from before, or name "
                "another store in bench.toml",
            )

    def _begun(self) -> Unsealed | None:
        """As `Sealing.begin`."""
        try:
            return self._sealing.begin(fold_behind(self._file, self._sealing.head))
        except ValueError as e:
            raise StoreUnwritable(
                f"the seals of the store {self.path} cannot be read",
                got=str(e),
                wanted="seals as Coatbench makes them",
                next_step="coatbench store verify says what does not fit; go on with a copy from "
                "before, or name another store in bench.toml",
            ) from e

    def _refuse_unsealed(self, row: Unsealed | None) -> None:
        """A row that was put in while no daemon recorded was not seen at the bench."""
        if row is not None:
            raise StoreUnwritable(
                f"another program has written into the store {self.path}",
                got=f"{row.table} {row.id}, which no seal has",
                wanted="only rows that were recorded by Coatbench",
                next_step="coatbench store verify says what does not fit; go on with a copy from "
                "before, or name another store in bench.toml",
            )

    def _applied(self) -> set[str]:
        """The steps of the schema that the store has; one that is not known here is refused."""
        applied, known = set(MIGRATIONS.applied(self.db)), set(MIGRATIONS.names)
        if newer := sorted(applied - known):
            raise StoreUnwritable(
                f"the store {self.path} was made by a newer Coatbench",
                got=f"schema steps {', '.join(newer)}",
                wanted=f"none after {max(known)}",
                next_step="update Coatbench, or name another store in bench.toml",
            )
        return applied

    def append(self, rows: Iterable[Row]) -> None:
        """Append all rows in one transaction; on return they are on disk, or none is.

        Rows go in as they happened: a row may refer to any row before it.
        Raises `StoreUnwritable`; the caller must then stop acquiring.
        """
        batch = list(rows)
        if not batch:
            return
        conn = self._conn
        try:
            self._begin()
            try:
                if len(batch) < ROWS_A_STATEMENT:
                    # As of a press: to put rows of a kind together costs more than they do.
                    for row in batch:
                        self._cursor.execute(_INSERTS[type(row)], tuple(row))
                else:
                    for kind, stretch in groupby(batch, key=type):
                        self._put(kind, list(stretch))
                self._sealing.seal(batch)
                self._cursor.execute("COMMIT")
                self._sealing.committed()
                self._commits += 1
                self._refuse_other_file()
                if not _MILESTONES.isdisjoint(map(type, batch)):
                    keep_head(self._file, self._sealing.head, self._sealing.fold)
            except BaseException:
                if conn.in_transaction:
                    conn.execute("ROLLBACK")
                raise
        except sqlite3.IntegrityError as e:
            raise self._another_wrote(batch) or _unwritable(self.path, e) from e
        except sqlite3.Error as e:
            raise _unwritable(self.path, e) from e

    def _put(self, kind: type[Row], rows: list[Row]) -> None:
        """Rows of one kind, within the transaction. The triggers look at each as it goes in."""
        if len(rows) == 1:
            # A plain tuple: what is made of one is bound through lookups, field by field.
            self._cursor.execute(_INSERTS[kind], tuple(rows[0]))
            return
        many = len(rows) - len(rows) % ROWS_A_STATEMENT
        for first in range(0, many, ROWS_A_STATEMENT):
            values = list(chain.from_iterable(rows[first : first + ROWS_A_STATEMENT]))
            self._cursor.execute(_MANY[kind], values)
        if many < len(rows):
            self._cursor.executemany(_INSERTS[kind], map(tuple, rows[many:]))

    def hurry(self) -> None:
        """The daemon is to end: do not wait much longer for a lock. Any thread."""
        self._hurried.set()

    def _begin(self) -> None:
        """Begin a transaction, after whoever writes just now. Raises `sqlite3.Error`."""
        waits = self._lock_waits
        left_s = waits.usual_s
        while True:
            try:
                self._cursor.execute("BEGIN IMMEDIATE")
            except sqlite3.OperationalError as e:
                if self._hurried.is_set():
                    left_s = min(left_s, waits.hurried_s)
                left_s -= waits.try_s
                if e.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or left_s <= 0:
                    raise
            else:
                return

    def _another_wrote(self, batch: Sequence[Row]) -> StoreUnwritable | None:
        """The error to raise where rows of somebody else stand in the way of these."""
        taken = self.next_ids()
        for row in batch:
            if row[0] < taken[type(row)]:
                return StoreUnwritable(
                    f"another program has written into the store {self.path}",
                    got=f"a row {row[0]} in {TABLES[type(row)]} that this daemon did not write",
                    wanted="one writer, for only then is every row what was seen at the bench",
                    next_step="end that program, then start coatbench serve again; "
                    "coatbench status names the run to go on with",
                )
        return None

    def _present(self) -> tuple[tuple[int, int] | None, ...]:
        """What lies under the names of the store and its journal now."""
        return _identity(self._name), _identity(self._journal)

    def _refuse_other_file(self) -> None:
        """A commit counts only in the file that others find under the store's name.

        An open file that was removed, moved or replaced takes commits as before, and nobody would
        ever read them. The journal beside it is held to the same.
        """
        seen = self._present()
        if None in seen or seen != self._files:
            raise StoreUnwritable(
                f"the store {self.path} is no longer the file that was opened",
                got="a file that was removed, moved or replaced, or its journal (-wal)",
                wanted="the store and its journal left in place while the daemon runs",
                next_step="put both files back if you moved them, then start coatbench serve again",
            )

    def rest(self) -> None:
        """Nobody waits: move the journal into the file, as far as readers let it.

        Raises `StoreUnwritable`.
        """
        if self._commits < REST_AFTER_COMMITS:
            return
        self._commits = 0
        try:
            self._conn.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchall()
        except sqlite3.Error as e:
            raise _unwritable(self.path, e) from e

    def next_ids(self) -> dict[type[Row], int]:
        """For every table the id of its next row."""
        try:
            return {
                kind: 1 + (self._conn.execute(f"SELECT max(id) FROM {table}").fetchone()[0] or 0)  # noqa: S608
                for kind, table in TABLES.items()
            }
        except sqlite3.Error as e:
            raise _unwritable(self.path, e) from e

    def query(self, sql: str, arguments: Sequence[object] = ()) -> list[sqlite3.Row]:
        """Read what is committed, on the writer's own thread."""
        cursor = self._conn.cursor()
        cursor.row_factory = sqlite3.Row
        return list(cursor.execute(sql, tuple(arguments)))

    def close(self) -> None:
        """Close the file and let others record into it."""
        if self._closed:
            return
        self._closed = True
        keep_head(self._file, self._sealing.head, self._sealing.fold)
        self._conn.close()
        self._lock.release()


def _refuse_misplaced(path: Path) -> None:
    """Refuse a store whose journal is there without it, and one that has two names.

    SQLite throws away a journal that does not fit the file beside it, and with it readings that
    were moved apart from their store. Two names of one file have a journal each.
    """
    journal = Path(f"{path}-wal")
    if not path.exists() and journal.exists() and journal.stat().st_size:
        raise StoreUnwritable(
            f"the store {path} is gone, and its journal is still here",
            got=f"{journal} without {path}",
            wanted="both, or neither",
            next_step=f"put the store back beside its journal: readings are in both; only if you "
            f"have no use for them, move {journal} away",
        )
    if path.exists() and path.stat().st_nlink > 1:
        raise StoreUnwritable(
            f"the store {path} has another name",
            got=f"{path.stat().st_nlink} hard links to one file",
            wanted="one name: a journal lies beside each name, and readings would be lost",
            next_step="remove the other link, or copy the file",
        )


def _identity(path: str) -> tuple[int, int] | None:
    """Device and number of a file; None where there is none."""
    try:
        found = os.stat(path)
    except OSError:
        return None
    return found.st_dev, found.st_ino


def _unwritable(path: Path, error: Exception) -> StoreUnwritable:
    text = str(error)
    lowered = text.lower()
    if "full" in lowered or getattr(error, "errno", None) == 28:  # ENOSPC
        next_step = f"make room on the disk of {path.parent}, then start coatbench serve again"
    elif "readonly" in lowered or "unable to open" in lowered or isinstance(error, OSError):
        next_step = f"let your user write {path} and its folder, then start coatbench serve again"
    elif "locked" in lowered:
        next_step = "close the other program that writes to the store, then start the daemon again"
    elif "not a database" in lowered or "malformed" in lowered:
        next_step = "name another store in bench.toml and keep this file for inspection"
    else:
        next_step = "see the message; acquisition has stopped so that nothing goes unrecorded"
    return StoreUnwritable(
        f"the store {path} cannot be written",
        got=text,
        wanted="a durable commit",
        next_step=next_step,
    )
