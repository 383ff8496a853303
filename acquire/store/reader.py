"""Read-only access to a store, for reports, exports and screens.

A reader never writes and never blocks the writer (WAL); it may be used while a daemon records.
One thread at a time uses a reader.
"""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Generator, Sequence
from pathlib import Path
from types import TracebackType
from typing import Any

from acquire.errors import NotFound, StoreError
from acquire.store.guards import other_guards
from acquire.store.schema import MIGRATIONS


class StoreReader:
    """Opens the store at `path` read-only. Raises `NotFound` or `StoreError`."""

    def __init__(self, path: Path) -> None:
        if not path.is_file():
            raise NotFound(
                f"there is no store at {path}",
                wanted="a store, which the first plan, check or reading makes",
                next_step="coatbench trial new plans a trial, coatbench serve begins to record; "
                "or name another bench file with --bench",
            )
        self.path = path
        try:
            self._conn = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)
        except sqlite3.Error as e:
            raise _unreadable(path, e) from e
        self._conn.row_factory = sqlite3.Row
        try:
            self._refuse_older()
        except sqlite3.Error as e:
            self._conn.close()
            raise _unreadable(path, e) from e
        except StoreError:
            self._conn.close()
            raise

    def _refuse_older(self) -> None:
        found = self._conn.execute("SELECT name FROM _sqlite_migrations")
        applied = {row["name"] for row in found}
        missing = [name for name in MIGRATIONS.names if name not in applied]
        if missing:
            raise StoreError(
                f"the store {self.path} has an older schema",
                got=f"without {', '.join(missing)}",
                next_step="start coatbench serve once, which brings it up to date",
            )

    def __enter__(self) -> StoreReader:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        tb: TracebackType | None,
    ) -> None:
        self.close()

    @contextlib.contextmanager
    def snapshot(self) -> Generator[None, None, None]:
        """All that is read within is of one moment, whatever is recorded meanwhile.

        Within another one it is that moment.
        """
        if self._conn.in_transaction:
            yield
            return
        self.rows("BEGIN")
        try:
            yield
        finally:
            self._conn.rollback()

    def rows(self, sql: str, arguments: Sequence[object] = ()) -> list[sqlite3.Row]:
        """All rows of a query. This and the other two raise `StoreError` for a damaged file."""
        return list(self.each(sql, arguments))

    def each(
        self, sql: str, arguments: Sequence[object] = ()
    ) -> Generator[sqlite3.Row, None, None]:
        """The rows of a query one by one, for exports of any size."""
        try:
            yield from self._conn.execute(sql, tuple(arguments))
        except sqlite3.ProgrammingError:
            raise  # a fault of ours and none of the file
        except sqlite3.DatabaseError as e:
            raise _damaged(self.path, e) from e

    def one(self, sql: str, arguments: Sequence[object] = ()) -> Any:
        """The first column of the first row, or None."""
        with contextlib.closing(self.each(sql, arguments)) as found:
            row = next(found, None)
        return None if row is None else row[0]

    def other_guards(self) -> tuple[list[str], list[str]]:
        """As `acquire.store.guards.other_guards` finds them. Raises `StoreError`."""
        try:
            return other_guards(self._conn)
        except sqlite3.DatabaseError as e:
            raise _damaged(self.path, e) from e

    def close(self) -> None:
        self._conn.close()


def _unreadable(path: Path, error: sqlite3.Error) -> StoreError:
    return StoreError(
        f"{path} cannot be read as a store", got=str(error), next_step="name the right file"
    )


def _damaged(path: Path, error: sqlite3.Error) -> StoreError:
    return StoreError(
        f"the store {path} cannot be read to its end",
        got=str(error).splitlines()[0][:200],
        wanted="a whole store",
        next_step="copy the file, with its -wal if there is one, to a sound disk and try there",
    )
