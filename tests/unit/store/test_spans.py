"""The rows of a connection on the tape are found without an index, and among those of others."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from acquire.report.record.spans import ROWS_OF, last_of, span_of
from acquire.report.record.troubles import broken_off
from acquire.report.replay.taped import LISTED, listed, taped
from acquire.store import StoreReader, StoreWriter
from acquire.store import rows as r
from acquire.store.database import Database
from acquire.store.rows import TABLES, Row
from acquire.store.schema import MIGRATIONS
from acquire.store.sealing import Sealing
from acquire.store.verify import verify
from tests.unit.store.test_fold import loose
from tests.unit.store.test_seals import record, strangely

FRAME_HEADER_BYTES = 24
"""Before each page in the journal (SQLite's file format, section 4.1)."""


class Daemon:
    """What one daemon after the other records of two meters, numbered as the recorder does it."""

    def __init__(self, *, names_rows: bool) -> None:
        self._names_rows = names_rows
        self.tape: dict[int, list[int]] = {}
        """The rows of each connection."""
        self._row = self._connection = self._end = 0

    def opened(self, instrument: str) -> r.ConnectionRow:
        self._connection += 1
        self.tape[self._connection] = []
        number = self._connection
        return r.ConnectionRow(number, self._row, self._row, instrument, "p", "", self._after())

    def passed(self, connection: int) -> r.TapeRow:
        self._row += 1
        own = self.tape[connection]
        own.append(self._row)
        return r.TapeRow(self._row, connection, "received", 4 * len(own), self._row, 0, b"R,1\n")

    def closed(self, connection: int) -> r.DisconnectionRow:
        self._end += 1
        return r.DisconnectionRow(self._end, self._row, connection, "unplugged", self._after())

    def day(self) -> Iterator[list[Row]]:
        """Two meters side by side, one of them unplugged and plugged in; then the daemon is killed.

        A commit each.
        """
        gloss, force = self.opened("gloss"), self.opened("force")
        yield [gloss, force]
        for _ in range(3):
            yield [self.passed(gloss.id), self.passed(force.id)]
        yield [self.passed(gloss.id), self.closed(gloss.id)]
        yield [self.passed(force.id)]
        again = self.opened("gloss")
        yield [again]
        yield [self.passed(again.id), self.passed(force.id)]

    def _after(self) -> int | None:
        return self._row if self._names_rows else None


def found(path: Path, connection: int) -> list[int]:
    with StoreReader(path) as reader:
        rows = [row[0] for row in reader.rows(ROWS_OF.format("?"), (connection,))]
        assert last_of(reader, span_of(reader, connection)) == (rows[-1] if rows else None)
        # The moment of each row is its number.
        assert [one.at.utc_ns for one in taped(reader, connection).passed] == rows
        return rows


def recorded_before(path: Path, *days: list[list[Row]]) -> None:
    """Into a store whose tape has an index, by daemons that knew no `after_tape`."""
    with closing(sqlite3.connect(path, isolation_level=None)) as conn:
        MIGRATIONS.apply(Database(conn, execute_plugins=False), stop_before="m026_spans")
        for day in days:
            sealing = Sealing(conn)
            assert sealing.begin() is None
            for commit in day:
                conn.execute("BEGIN")
                for row in commit:
                    table = TABLES[type(row)]
                    names = [one[1] for one in conn.execute(f"PRAGMA table_info({table})")]
                    then = row[: len(names)]
                    marks = ", ".join("?" * len(then))
                    conn.execute(f"INSERT INTO {table} VALUES ({marks})", then)
                sealing.seal(commit)
                conn.execute("COMMIT")
                sealing.committed()


def test_each_connection_has_its_own_rows_and_no_more_is_gone_through_than_its_time(
    tmp_path: Path,
) -> None:
    path, daemon = tmp_path / "bench.sqlite", Daemon(names_rows=True)
    for _ in range(2):
        record(path, *daemon.day())
    writer = StoreWriter(path)
    silent = daemon.opened("gloss")
    writer.append([silent])
    # Read while the daemon records, too.
    for connection, rows in daemon.tape.items():
        assert found(path, connection) == rows
    with StoreReader(path) as reader:
        spans = [span_of(reader, connection)[:2] for connection in daemon.tape]
    # Unplugged, killed, killed; the same again; nothing passed since.
    assert spans == [(1, 7), (1, 10), (9, 10), (11, 17), (11, 20), (19, 20), (21, 20)]
    writer.close()


def test_a_store_of_before_loses_the_index_and_no_row_and_fits_its_seals(tmp_path: Path) -> None:
    path, daemon = tmp_path / "bench.sqlite", Daemon(names_rows=False)
    recorded_before(path, [*daemon.day()], [*daemon.day()])
    since = Daemon(names_rows=True)
    since.__dict__.update(daemon.__dict__, _names_rows=True)
    record(path, *since.day())
    for connection, rows in since.tape.items():
        assert found(path, connection) == rows
    with StoreReader(path) as reader:
        assert verify(reader).misfit is None
        assert reader.other_guards() == ([], [])
        spans = [span_of(reader, connection)[:2] for connection in since.tape]
        # Of before it is known by the openings of the daemon alone.
        assert spans[:6] == [(1, 10)] * 3 + [(11, 20)] * 3
        assert spans[6:] == [(21, 27), (21, 30), (29, 30)]
        told = {row["connection_id"]: row["heard"] for row in broken_off(reader, (0, 10**18))}
    # The last of each meter may be open still; of the others the moment of the last row is told.
    assert told == {2: 10, 3: 9, 5: 20, 6: 19}


def test_the_list_of_tapes_counts_what_passed_and_sorts_no_rows_of_the_tape(
    tmp_path: Path,
) -> None:
    path, daemon = tmp_path / "bench.sqlite", Daemon(names_rows=True)
    record(path, *daemon.day())
    with StoreReader(path) as reader:
        assert [one.received for one in listed(reader)] == [
            4 * len(rows) for rows in daemon.tape.values()
        ]
        plan = [row["detail"] for row in reader.rows(f"EXPLAIN QUERY PLAN {LISTED}")]
    # Else the bytes of a whole store would be copied.
    assert "SEARCH t USING INTEGER PRIMARY KEY (rowid>? AND rowid<?)" in plan


def test_what_a_connection_says_of_the_tape_is_sealed(tmp_path: Path) -> None:
    path, daemon = tmp_path / "bench.sqlite", Daemon(names_rows=True)
    record(path, *daemon.day())
    strangely(path, "UPDATE connection SET after_tape = 9 WHERE id = 1")
    assert found(path, 1) != daemon.tape[1]
    with StoreReader(path) as reader:
        assert str(verify(reader).misfit) == "connection 1 is not what was recorded"


@pytest.mark.parametrize(
    ("number", "told"),
    [
        (-5, "ids of tape follow one another"),
        (0, "ids of tape follow one another"),
        (1, "this tape exists"),
        # No row has it, and the next one is behind it.
        (3, "ids of tape follow one another"),
        (10, "this tape exists"),
        (10 + 1_000_001, "ids of tape follow one another"),
        (2**63 - 1, "ids of tape follow one another"),
    ],
)
@pytest.mark.parametrize("how", ["INSERT", "INSERT OR REPLACE", "INSERT OR IGNORE"])
def test_the_tape_takes_a_row_behind_all_others_alone(
    tmp_path: Path, how: str, number: int, told: str
) -> None:
    path, daemon = tmp_path / "bench.sqlite", Daemon(names_rows=True)
    record(path, *daemon.day())
    strangely(path, "DELETE FROM tape WHERE id = 3")
    with closing(sqlite3.connect(path)) as stranger:
        before = stranger.execute("SELECT * FROM tape").fetchall()
        values = "(?, 1, 'received', 0, 0, 0, x'00')"
        with pytest.raises(sqlite3.IntegrityError, match=told):
            stranger.execute(f"{how} INTO tape VALUES {values}", (number,))
        # Of several rows of one statement each is looked at.
        with pytest.raises(sqlite3.IntegrityError, match="this tape exists"):
            stranger.execute(f"{how} INTO tape VALUES {values}, {values}", (11, 11))
        assert stranger.execute("SELECT * FROM tape").fetchall() == before
        stranger.execute(f"{how} INTO tape VALUES {values}, {values}", (11, 12))
        with pytest.raises(sqlite3.IntegrityError, match="follow one another"):
            stranger.execute(
                f"{how} INTO tape (connection_id, direction, start, at_utc_ns, at_mono_ns, bytes) "
                "VALUES (1, 'received', 0, 0, 0, x'00')"
            )


def test_the_row_of_its_tape_costs_a_press_one_page(tmp_path: Path) -> None:
    grown = {}
    for what in ("taped", "untaped"):
        path, daemon = tmp_path / f"{what}.sqlite", Daemon(names_rows=True)
        with closing(StoreWriter(path)) as writer:
            writer.append([daemon.opened("shore")])
            writer.append([daemon.passed(1), loose(1)])
            ((page_bytes,),) = writer.query("PRAGMA page_size")
            before = os.stat(f"{path}-wal").st_size
            for number in range(2, 12):
                row = [daemon.passed(1)] if what == "taped" else []
                writer.append([*row, loose(number)])
            grown[what] = os.stat(f"{path}-wal").st_size - before
    assert grown["taped"] - grown["untaped"] == 10 * (FRAME_HEADER_BYTES + page_bytes)
