"""Seals the commits of a writer, and takes up a chain where it ended. The writer's thread."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from acquire.store.fold import BEGINNING, few, folded
from acquire.store.rows import TABLES, Row
from acquire.store.seals import (
    Head,
    Line,
    SealRow,
    Stretch,
    by_table,
    read_stretches,
    read_upto,
    sealed_by,
    stretches,
    upto_words,
)

ROWS_A_SEAL = 10_000
"""Of a store from before there were seals."""
_BY_KIND: dict[type, str] = {**TABLES}
_INSERT = f"INSERT INTO seal ({', '.join(SealRow._fields)}) VALUES (?, ?, ?, ?, ?)"  # noqa: S608
_INSERT_OF_ROWS = f"INSERT INTO seal ({', '.join(SealRow._fields[:-1])}) VALUES (?, ?, ?, ?)"  # noqa: S608
"""Of a seal without `upto`, which is NULL then: all but the first of a daemon."""


class Unsealed(NamedTuple):
    """A row that no seal has, behind rows that have one."""

    table: str
    id: int


class Sealing:
    """The chain of one store that is written to."""

    def __init__(self, conn: sqlite3.Connection) -> None:
        self._conn = conn
        self._run = conn.cursor().execute
        row = conn.execute("SELECT id, digest FROM seal ORDER BY id DESC LIMIT 1").fetchone()
        self._head = Head() if row is None else Head(*row)
        self._next = self._head
        self._fold = self._next_fold = BEGINNING

    def begin(self, fold: bytes | None = None) -> Unsealed | None:
        """Seal how far the store goes, and what an older Coatbench recorded.

        `fold` is the one that was kept behind the last seal; without it folding begins anew. Gives
        a row that somebody else put in, if one is there; then nothing is sealed. Raises
        `sqlite3.Error`, and ValueError where the seals are none.
        """
        lasts = last_rows(self._conn)
        if self._head.seal_id:
            known = sealed_lasts(self._conn)
            for table, last in lasts.items():
                if last > known.get(table, 0):
                    return Unsealed(table, known.get(table, 0) + 1)
        self._conn.execute("BEGIN IMMEDIATE")
        try:
            if not self._head.seal_id and any(lasts.values()):
                for found in _all_rows(self._conn):
                    self._put(sealed_by(self._next, [found]))
            opening = sealed_by(self._next, [], upto_words(lasts))
            self._put(opening)
            self._next_fold = BEGINNING if fold is None else folded(fold, opening, [])
            self._conn.execute("COMMIT")
        except BaseException:
            if self._conn.in_transaction:
                self._conn.execute("ROLLBACK")
            raise
        self.committed()
        return None

    def seal(self, batch: Sequence[Row]) -> None:
        """Append the seal of these rows, within the transaction that appends them."""
        self._next = self._head
        found = by_table(batch, _BY_KIND)
        seal = sealed_by(self._head, found)
        self._put(seal)
        self._next_fold = folded(self._fold, seal, few(found))

    @property
    def head(self) -> Head:
        """The last seal that is on disk."""
        return self._head

    @property
    def fold(self) -> bytes:
        """The fold behind that seal."""
        return self._fold

    def committed(self) -> None:
        """The transaction is on disk."""
        self._head, self._fold = self._next, self._next_fold

    def _put(self, row: SealRow) -> None:
        if row.upto is None:
            self._run(_INSERT_OF_ROWS, row[:-1])
        else:
            self._run(_INSERT, row)
        self._next = row.head


def last_rows(conn: sqlite3.Connection) -> dict[str, int]:
    """The last row of each table, 0 where it has none."""
    sql = "SELECT coalesce(max(id), 0) FROM {}"
    return {table: conn.execute(sql.format(table)).fetchone()[0] for table in TABLES.values()}


def sealed_lasts(conn: sqlite3.Connection) -> dict[str, int]:
    """The last row of each table that a seal has. Raises ValueError where the seals are none."""
    sql = "SELECT id, upto FROM seal WHERE upto IS NOT NULL ORDER BY id DESC LIMIT 1"
    row = conn.execute(sql).fetchone()
    since, known = (0, {}) if row is None else (row[0], read_upto(row[1]))
    for (text,) in conn.execute("SELECT stretches FROM seal WHERE id > ? ORDER BY id", (since,)):
        known |= {one.table: one.last for one in read_stretches(text)}
    return known


def _all_rows(conn: sqlite3.Connection) -> Iterator[tuple[Stretch, list[Line]]]:
    for table in TABLES.values():
        rows = conn.execute(f"SELECT * FROM {table} ORDER BY id")  # noqa: S608 - our own names
        while part := rows.fetchmany(ROWS_A_SEAL):
            yield from stretches(table, part)
