"""The store: append-only against everybody, durable, and readable with any SQLite tool."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path

import pytest
from sqlite_utils import Database

from acquire.errors import NotFound, StoreError, StoreInUse, StoreUnwritable
from acquire.store import StoreReader, StoreWriter
from acquire.store import rows as r
from acquire.store.arrays import TABLES as ARRAY_TABLES
from acquire.store.rows import TABLES, Row
from acquire.store.schema import MIGRATIONS
from acquire.store.writer import REST_AFTER_COMMITS, LockWaits
from tests.unit.stored import spine_rows


def note(number: int) -> r.NoteRow:
    return r.NoteRow(number, number, None, "", "", "sun on the bench")


@pytest.fixture
def writer(tmp_path: Path) -> Iterator[StoreWriter]:
    writer = StoreWriter(tmp_path / "bench.sqlite")
    yield writer
    writer.close()


def test_every_table_refuses_change_deletion_and_replacement(writer: StoreWriter) -> None:
    writer.append(spine_rows())
    path = writer.path
    # A stranger's connection with SQLite's defaults: no recursive triggers, no foreign keys.
    stranger = sqlite3.connect(path)
    tried = 0
    for table in TABLES.values():
        row = stranger.execute(f"SELECT * FROM {table} LIMIT 1").fetchone()
        assert row is not None, f"the example rows leave {table} empty"
        marks = ",".join("?" * len(row))
        for sql, arguments in (
            (f"UPDATE {table} SET id = id", ()),
            (f"DELETE FROM {table}", ()),
            (f"INSERT OR REPLACE INTO {table} VALUES ({marks})", row),
        ):
            with pytest.raises(sqlite3.DatabaseError, match="append-only"):
                stranger.execute(sql, arguments)
            stranger.rollback()
            tried += 1
    stranger.close()
    assert tried == 3 * len(TABLES)


def test_a_second_end_does_not_push_the_first_one_out(writer: StoreWriter) -> None:
    writer.append(spine_rows())
    stranger = sqlite3.connect(writer.path)
    for table in ("pass_end", "run_end", "sitting_end", "check_judgement", "void", "assignment"):
        row = stranger.execute(f"SELECT * FROM {table}").fetchone()
        marks = ",".join("?" * len(row))
        with pytest.raises(sqlite3.DatabaseError, match="append-only"):
            stranger.execute(
                f"INSERT OR REPLACE INTO {table} VALUES ({marks})", (row[0] + 50, *row[1:])
            )
        stranger.rollback()
    stranger.close()


@pytest.mark.parametrize("stray", [-5, 0, 2**62])
def test_an_id_out_of_order_is_refused(writer: StoreWriter, stray: int) -> None:
    writer.append(spine_rows())
    stranger = sqlite3.connect(writer.path)
    with pytest.raises(sqlite3.DatabaseError, match="follow one another"):
        stranger.execute("INSERT INTO note VALUES (?, 0, NULL, '', '', 'x')", (stray,))
    stranger.close()


def test_the_journal_is_a_wal_and_every_commit_is_synced(writer: StoreWriter) -> None:
    assert writer.query("PRAGMA journal_mode")[0][0] == "wal"
    assert writer.query("PRAGMA synchronous")[0][0] == 2  # FULL


def test_a_reading_of_a_run_without_a_pass_is_refused_by_the_database_itself(
    writer: StoreWriter,
) -> None:
    rows = spine_rows()
    writer.append(rows)
    good = next(row for row in rows if isinstance(row, r.ReadingRow) and row.role == "run")
    for wrong in (
        good._replace(id=900, check_id=None),
        good._replace(id=900, check_id=2),  # that check failed
        good._replace(id=900, serial="SH-0999"),
        good._replace(id=900, instrument="deck"),
        good._replace(id=900, channel="60"),
        good._replace(id=900, quantity="force"),
        good._replace(id=900, at_utc_ns=0),
        good._replace(id=900, at_utc_ns=10**18),
        good._replace(id=900, unchecked=1, check_id=None),
        good._replace(id=900, value=None, value_real=None),
        good._replace(id=900, flags="repeat"),
    ):
        with pytest.raises(StoreUnwritable):
            writer.append([wrong])
    writer.append([good._replace(id=900)])


def test_an_assignment_without_a_pass_is_refused_by_the_database_itself(
    writer: StoreWriter,
) -> None:
    rows = spine_rows()
    loose = next(row for row in rows if isinstance(row, r.ReadingRow) and row.role == "loose")
    assignment = r.AssignmentRow(9, 0, 900, 1, "A2", "bare", 1, 1, 0, "forgot to start the run")
    writer.append([*rows, loose._replace(id=900), loose._replace(id=901, serial="X")])
    with pytest.raises(StoreUnwritable, match="valid pass"):
        writer.append([assignment._replace(check_id=2)])
    with pytest.raises(StoreUnwritable, match="valid pass"):
        writer.append([assignment._replace(reading_id=901)])
    with pytest.raises(StoreUnwritable, match="planned as unchecked"):
        writer.append([assignment._replace(check_id=None, unchecked=1)])
    writer.append([assignment])


def test_a_batch_goes_in_whole_or_not_at_all(writer: StoreWriter) -> None:
    rows = spine_rows()
    with pytest.raises(StoreUnwritable):
        writer.append([*rows, rows[0]])
    assert writer.query("SELECT count(*) FROM reading")[0][0] == 0


def test_at_rest_the_journal_moves_into_the_file(writer: StoreWriter) -> None:
    writer.append(spine_rows())
    size = writer.path.stat().st_size
    writer.rest()
    assert writer.path.stat().st_size == size
    for i in range(REST_AFTER_COMMITS):
        writer.append([r.NoteRow(10 + i, 0, None, "", "", "x" * 500)])
    writer.rest()
    assert writer.path.stat().st_size > size


def test_a_second_daemon_on_one_store_is_told_so(writer: StoreWriter) -> None:
    with pytest.raises(StoreInUse, match="another daemon recording into it"):
        StoreWriter(writer.path)


def test_a_closed_store_can_be_opened_again_and_goes_on_counting(tmp_path: Path) -> None:
    path = tmp_path / "s.sqlite"
    first = StoreWriter(path)
    first.append(spine_rows())
    first.close()
    second = StoreWriter(path)
    highest = max(row.id for row in spine_rows() if isinstance(row, r.ReadingRow))
    assert second.next_ids()[r.ReadingRow] == highest + 1
    second.close()


def test_a_full_disk_is_named_and_what_was_stored_stays(writer: StoreWriter) -> None:
    writer.append(spine_rows())
    pages = writer.query("PRAGMA page_count")[0][0]
    # SQLite's own limit gives the same error as a disk without room: SQLITE_FULL.
    writer.db.conn.execute(f"PRAGMA max_page_count = {pages}")
    note = r.NoteRow(50, 0, None, "", "", "x" * 100_000)
    with pytest.raises(StoreUnwritable, match=r"full.*make room on the disk"):
        writer.append([note])
    assert writer.query("SELECT count(*) FROM reading")[0][0] > 0
    assert writer.query("SELECT count(*) FROM note WHERE id = 50")[0][0] == 0


def test_another_program_that_holds_the_store_for_a_while_is_waited_for(
    writer: StoreWriter,
) -> None:
    intruder = sqlite3.connect(writer.path, isolation_level=None, check_same_thread=False)
    intruder.execute("BEGIN IMMEDIATE")
    with ThreadPoolExecutor(1) as pool:
        appended = pool.submit(writer.append, spine_rows())
        with pytest.raises(TimeoutError):
            appended.result(0.2)
        intruder.execute("COMMIT")
        appended.result(10)
    intruder.close()
    assert writer.query("SELECT count(*) FROM note")[0][0] == 1


@pytest.mark.parametrize(
    ("waits", "hurried"), [(LockWaits(0.1, 9, 0.02), False), (LockWaits(600, 0.1, 0.02), True)]
)
def test_a_program_that_does_not_let_go_of_the_store_is_named_and_not_waited_for_at_the_end(
    tmp_path: Path, waits: LockWaits, hurried: bool
) -> None:
    writer = StoreWriter(tmp_path / "bench.sqlite", waits)
    with closing(sqlite3.connect(writer.path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        if hurried:
            writer.hurry()
        with pytest.raises(StoreUnwritable, match="close the other program that writes"):
            writer.append([note(1)])
        other.execute("ROLLBACK")
    writer.append([note(1)])
    writer.close()


def test_rows_of_another_program_are_told_with_their_table(writer: StoreWriter) -> None:
    writer.append([note(1)])
    with closing(sqlite3.connect(writer.path, isolation_level=None)) as other:
        other.execute(
            "INSERT INTO note SELECT 2, at_utc_ns, sitting_id, trial, stage, text FROM note"
        )
    with pytest.raises(StoreUnwritable, match="a row 2 in note that this daemon did not write"):
        writer.append([note(2)])


@pytest.mark.parametrize("what", ["removed", "moved", "replaced", "journal removed"])
def test_a_store_that_is_taken_away_while_open_takes_no_more_rows(
    writer: StoreWriter, what: str
) -> None:
    writer.append(spine_rows())
    path = writer.path
    wal = path.with_name(path.name + "-wal")
    if what == "removed":
        path.unlink()
    elif what == "moved":
        path.rename(path.with_name("elsewhere.sqlite"))
    elif what == "replaced":
        older = path.with_name("older.sqlite")
        shutil.copy(path, older)
        older.replace(path)
    else:
        wal.unlink()
    with pytest.raises(StoreUnwritable, match="no longer the file that was opened"):
        writer.append([r.NoteRow(50, 0, None, "", "", "lost")])


def test_another_name_of_the_same_store_lets_no_second_daemon_in(writer: StoreWriter) -> None:
    other = writer.path.with_name("other.sqlite")
    other.symlink_to(writer.path)
    with pytest.raises(StoreInUse):
        StoreWriter(other)


def test_a_file_that_is_no_store_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "s.sqlite"
    path.write_bytes(b"the tester's diary, not a database. " * 60)
    with pytest.raises(StoreUnwritable, match="not a database"):
        StoreWriter(path)
    assert path.read_bytes().startswith(b"the tester's diary")


def test_a_reader_sees_what_is_committed_while_the_writer_works(writer: StoreWriter) -> None:
    writer.append(spine_rows())
    with StoreReader(writer.path) as reader:
        count = reader.one("SELECT count(*) FROM readings")
        more: Row = spine_rows()[0]._replace(id=77)
        writer.append([more])
        assert count == reader.one("SELECT count(*) FROM readings") > 0
        with pytest.raises(StoreError, match="readonly"):
            reader.rows("INSERT INTO note VALUES (99, 0, NULL, '', '', '')")


def test_a_missing_store_and_a_strange_file_are_told_apart(tmp_path: Path) -> None:
    with pytest.raises(NotFound, match="there is no store"):
        StoreReader(tmp_path / "none.sqlite")
    strange = tmp_path / "strange.sqlite"
    sqlite3.connect(strange).execute("CREATE TABLE t (x)").connection.close()
    with pytest.raises(StoreError):
        StoreReader(strange)


def test_the_readings_view_has_one_row_a_reading_with_all_tags_as_columns(
    writer: StoreWriter,
) -> None:
    rows = spine_rows()
    writer.append(rows)
    stranger = sqlite3.connect(writer.path)
    stranger.row_factory = sqlite3.Row
    seen = {row["reading_id"]: dict(row) for row in stranger.execute("SELECT * FROM readings")}
    stranger.close()
    assert len(seen) == sum(isinstance(row, r.ReadingRow) for row in rows)
    run = seen[4]
    assert (run["trial"], run["measure"], run["zone"], run["stage"], run["replicate"]) == (
        "gelcoat",
        "gloss20",
        "A1",
        "bare",
        1,
    )
    assert (run["value"], run["unit"], run["at"]) == (
        "82.4",
        "gloss_unit",
        "1970-01-01T00:00:30.000Z",
    )
    assert run["counts"] == 0  # its pass was closed by a check that failed
    assert run["bracket"] == "suspect"
    assert (seen[5]["role"], seen[5]["zone"], seen[5]["counts"]) == ("run", "A2", 0)
    assert seen[5]["void_reason"] == "meter slipped"
    assert (seen[6]["role"], seen[6]["loose_reason"]) == ("loose", "repeat")


def test_a_store_of_the_first_schema_is_brought_up_to_date_with_its_readings(
    tmp_path: Path,
) -> None:
    path = tmp_path / "old.sqlite"
    first = [row for row in spine_rows() if TABLES[type(row)] not in ARRAY_TABLES]
    rows = [tuple(row) for row in first]
    with closing(sqlite3.connect(path)) as conn:
        db = Database(conn, execute_plugins=False)
        MIGRATIONS.apply(db, stop_before="m002_channels")
        # A view of the time, which knew the old names.
        conn.execute("CREATE VIEW readings AS SELECT id, geometry FROM reading")
        for row in first:
            table = TABLES[type(row)]
            conn.execute(f"INSERT INTO {table} VALUES ({', '.join('?' * len(row))})", row)
        conn.commit()
    writer = StoreWriter(path)
    kept = [
        tuple(found)
        for table in dict.fromkeys(TABLES[type(row)] for row in first)
        for found in writer.query(f"SELECT * FROM {table}")
    ]
    assert sorted(map(repr, kept)) == sorted(map(repr, rows))
    assert writer.query("SELECT channel FROM readings")[0]["channel"] == "20"
    reading = next(row for row in first if isinstance(row, r.ReadingRow))
    uncovered = reading._replace(id=900, channel="85", role="run", check_id=1)
    with pytest.raises(StoreUnwritable, match="without a valid pass"):
        writer.append([uncovered])
    writer.close()
