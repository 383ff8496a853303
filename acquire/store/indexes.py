"""Whether the indexes of a store lead to its rows: what is looked up is what is there.

No seal has an index, since rows alone are recorded. But nearly every look-up goes by one, and an
index that lacks an entry hides a row that fits its seal. Somebody can make such a one (dropped,
made again of fewer rows, and its text in the schema put back), and so can a bad disk. SQLite itself
holds indexes against their tables, which reads these whole: that is done of all of a store
(`damage`), or of its small tables, and of those that come in bulk only the rows of some stretches
are looked for by their indexes (`misled`). Reads; the thread of the reader.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from acquire.store.finding import REGISTER
from acquire.store.fold import BULK
from acquire.store.misfit import Misfit
from acquire.store.reader import StoreReader
from acquire.store.seals import TABLE as SEAL
from acquire.store.seals import Stretch

_MOST_FAULTS = 20
"""So many are asked for; the first is named, and of the others their number told."""
_MOST_ID = 2**63 - 1
_ONE_TABLE_SINCE = (3, 33)
"""SQLite before it knows no check of one table: there the whole store is checked, in its time."""

Lasts = Mapping[str, int]
"""The last row of each table at some moment."""


class Index(NamedTuple):
    """An index of a table that comes in bulk; its first column names rows of `parent`."""

    name: str
    table: str
    columns: tuple[str, ...]
    parent: str
    where: str = "1"


OF_BULK = (
    Index("reading_run", "reading", ("run_id",), "run", "run_id IS NOT NULL"),
    Index("reading_check", "reading", ("check_id",), "check_begin", "check_id IS NOT NULL"),
    Index("reading_loose", "reading", ("sitting_id",), "sitting", "role = 'loose'"),
    Index("spectrum_of_connection", "spectrum", ("connection_id",), "connection"),
    Index("trace_block_of_trace", "trace_block", ("trace_id", "first"), "trace"),
    Index("past_result_import", "past_result", ("import_id",), "past_import"),
)
"""As the schema makes them. What SQLite checks of their tables takes seconds for years of rows."""


def damage(reader: StoreReader) -> Misfit | None:
    """What SQLite's own check of the whole file finds first. Raises `StoreError`."""
    return _checked(reader, f"({_MOST_FAULTS})")


def misled(reader: StoreReader, stretches: Sequence[tuple[Lasts, Lasts]]) -> Misfit | None:
    """The first index that does not lead to its rows, of all that results can rest on.

    Small tables are held whole; of those in bulk the rows from behind the first to the second last
    ones of each stretch, and all that is found by what they belong to. Raises `StoreError`.
    """
    own = {one.name for one in OF_BULK}
    sql = "SELECT name, tbl_name FROM sqlite_master WHERE type = 'index'"
    # An index of somebody's own makes SQLite's check necessary, however long it takes.
    tables = {
        table
        for name, table in reader.rows(sql)
        if (table not in BULK or name not in own) and table != SEAL
    }
    if sqlite3.sqlite_version_info < _ONE_TABLE_SINCE or ({}, {}) in stretches:
        # Of the whole store that is quicker, too.
        return damage(reader)
    for table in sorted(tables):
        quoted = table.replace("'", "''")
        if (found := _checked(reader, f"('{quoted}')")) is not None:
            return found
    for index in OF_BULK:
        for since, upto in stretches:
            if (found := _astray(reader, index, since, upto)) is not None:
                return found
    return None


def unled_register(reader: StoreReader, upto: Lasts, found: Sequence[Stretch]) -> Misfit | None:
    """A row of the register up to some last ones that none of the seals found by index has."""
    for table in REGISTER:
        for (number,) in reader.rows(
            f"SELECT id FROM {table} WHERE id <= ? ORDER BY id",  # noqa: S608 - our own names
            (upto.get(table, 0),),
        ):
            if not any(s.table == table and s.first <= number <= s.last for s in found):
                return _misleading(SEAL, "seal_register")
    return None


def _astray(reader: StoreReader, index: Index, since: Lasts, upto: Lasts) -> Misfit | None:
    """A row that its index does not have, or an entry of it that is none of its row's."""
    name, table, columns, parent, where = index
    key = columns[0]
    alike = " AND ".join(f"i.{column} IS r.{column}" for column in columns)
    missing = (
        f"SELECT 1 FROM {table} AS r NOT INDEXED WHERE r.id > ? AND r.id <= ? AND {where} "  # noqa: S608
        f"AND NOT EXISTS (SELECT 1 FROM {table} AS i INDEXED BY {name} "
        f"WHERE {alike} AND i.id = r.id AND {where}) LIMIT 1"
    )
    strange = (
        f"SELECT 1 FROM {table} AS i INDEXED BY {name} WHERE i.{key} > ? AND i.{key} <= ? "  # noqa: S608
        f"AND {where} AND NOT EXISTS (SELECT 1 FROM {table} AS r NOT INDEXED "
        f"WHERE r.id = i.id AND {alike} AND {where}) LIMIT 1"
    )
    for sql, rows in ((missing, table), (strange, parent)):
        if reader.rows(sql, (since.get(rows, 0), upto.get(rows, _MOST_ID))):
            return _misleading(table, name)
    return None


def _checked(reader: StoreReader, what: str) -> Misfit | None:
    faults = [str(row[0]) for row in reader.rows(f"PRAGMA integrity_check{what}")]
    if faults == ["ok"]:
        return None
    first, *others = faults
    of_index = re.search(r" index (\S+)$", first)
    if of_index is None:
        # Its first line may be a heading.
        told = " ".join(first.split())[:200]
        misfit = Misfit("the file", None, f"is damaged: SQLite says {told!r}", _DAMAGED)
    else:
        sql = "SELECT tbl_name FROM sqlite_master WHERE type = 'index' AND name = ?"
        misfit = _misleading(reader.one(sql, (of_index[1],)) or "a table", of_index[1])
    if not others:
        return misfit
    number = str(len(others)) if len(faults) < _MOST_FAULTS else "many"
    return misfit._replace(what=f"{misfit.what} (and {number} more)")


_DAMAGED = (
    "keep this file as it is, copy it with its -wal and .heads to a sound disk and look there "
    "again; if it is the same there, go on with a copy from before"
)
_ANEW = (
    "keep this file as it is. In a copy of it, with its .heads, run the one statement REINDEX in "
    "any SQLite tool while no daemon has it open: it makes indexes anew and changes no row. Go on "
    "with the copy if coatbench store verify finds that it fits, and make pages and exports of "
    "since anew; if not, go on with a copy from before"
)


def _misleading(table: str, index: str) -> Misfit:
    what = (
        f"has an index, {index}, that does not lead to its rows as they are: what is looked up by "
        "it is missed or is another"
    )
    return Misfit(table, None, what, _ANEW)
