"""The store: append-only against everybody, durable, and readable with any SQLite tool."""

from __future__ import annotations

import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path

import pytest

from acquire.errors import NotFound, StoreError, StoreInUse, StoreUnwritable
from acquire.store import StoreReader, StoreWriter
from acquire.store import rows as r
from acquire.store.arrays import TABLES as ARRAY_TABLES
from acquire.store.check_rows import CheckBeginRow, CheckJudgementRow, PassEndRow, PieceJudgementRow
from acquire.store.database import Database
from acquire.store.reassessing import TABLES as REASSESSING_TABLES
from acquire.store.register import TABLES as REGISTER_TABLES
from acquire.store.rows import TABLES, Row
from acquire.store.schema import MIGRATIONS
from acquire.store.validity import TABLES as VALIDITY_TABLES
from acquire.store.work import GIVEN_UP_TABLES, TAKEN_BACK_TABLES
from acquire.store.work import TABLES as WORK_TABLES
from acquire.store.writer import REST_AFTER_COMMITS, LockWaits
from tests.unit.stored import spine_rows

LATER = {
    *ARRAY_TABLES,
    *REGISTER_TABLES,
    *VALIDITY_TABLES,
    *WORK_TABLES,
    *GIVEN_UP_TABLES,
    *TAKEN_BACK_TABLES,
    *REASSESSING_TABLES,
    "trial_zone",
    "move",
}
"""Tables that the first schema had not."""


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


def test_the_database_itself_holds_a_pass_to_its_first_and_last_moment_and_reading(
    writer: StoreWriter,
) -> None:
    rows = spine_rows()
    good = next(row for row in rows if isinstance(row, r.ReadingRow) and row.role == "run")
    begun = next(row for row in rows if isinstance(row, CheckBeginRow))
    writer.append(rows)
    opened, end, expires = 1000, 2000, 3000
    writer.append(
        [
            begun._replace(id=50),
            CheckJudgementRow(50, opened, 50, "pass", "", "", expires, 800),
            begun._replace(id=51),
            CheckJudgementRow(51, opened, 51, "pass", "", "", expires, 800),
            PassEndRow(50, end, 51, "expired", "", 900),
        ]
    )
    for check, number, at, is_taken in (
        (50, 800, opened, False),
        (50, 801, opened, True),
        (50, 802, opened - 1, False),
        (50, 803, expires - 1, True),
        (50, 804, expires, False),
        (51, 805, end - 1, True),
        (51, 806, end, False),
        (51, 900, opened, True),
        (51, 901, opened, False),
    ):
        one = good._replace(id=number, check_id=check, at_utc_ns=at)
        if is_taken:
            writer.append([one])
            continue
        with pytest.raises(StoreUnwritable, match="valid pass"):
            writer.append([one])


def test_an_assignment_without_a_pass_is_refused_by_the_database_itself(
    writer: StoreWriter,
) -> None:
    rows = spine_rows()
    loose = next(row for row in rows if isinstance(row, r.ReadingRow) and row.role == "loose")
    assignment = r.AssignmentRow(9, 0, 900, 1, "A2", "bare", 1, 1, 0, "forgot to start the run")
    strange = (loose._replace(id=901, serial="X"), loose._replace(id=902, flags="echo"))
    writer.append([*rows, loose._replace(id=900), *strange])
    with pytest.raises(StoreUnwritable, match="valid pass"):
        writer.append([assignment._replace(check_id=2)])
    for reading in strange:
        with pytest.raises(StoreUnwritable, match="valid pass"):
            writer.append([assignment._replace(reading_id=reading.id)])
    with pytest.raises(StoreUnwritable, match="planned as unchecked"):
        writer.append([assignment._replace(check_id=None, unchecked=1)])
    writer.append([assignment])


def test_a_batch_goes_in_whole_or_not_at_all_and_the_next_one_does(writer: StoreWriter) -> None:
    rows = spine_rows()
    with pytest.raises(StoreUnwritable):
        writer.append([*rows, rows[0]])
    assert writer.query("SELECT count(*) FROM reading")[0][0] == 0
    writer.append(rows)
    own = sum(isinstance(row, r.ReadingRow) for row in rows)
    assert writer.query("SELECT count(*) FROM reading")[0][0] == own > 0


@pytest.mark.parametrize("stray", [0, 31, 32, 70, 79])
def test_a_flood_goes_in_whole_in_its_order_or_not_at_all_for_one_row_of_it(
    writer: StoreWriter, stray: int
) -> None:
    rows = spine_rows()
    writer.append(rows)
    good = next(row for row in rows if isinstance(row, r.ReadingRow) and row.role == "run")
    flood = [good._replace(id=900 + i, text=f"{i}") for i in range(80)]
    before = writer.query("SELECT count(*) FROM reading")[0][0]
    with pytest.raises(StoreUnwritable, match="without a valid pass"):
        writer.append([*flood[:stray], flood[stray]._replace(serial="X"), *flood[stray + 1 :]])
    with pytest.raises(StoreUnwritable):
        writer.append([*flood[:stray], flood[stray]._replace(id=good.id), *flood[stray + 1 :]])
    assert writer.query("SELECT count(*) FROM reading")[0][0] == before
    writer.append(flood)
    stored = writer.query("SELECT * FROM reading WHERE id >= 900 ORDER BY id")
    assert [tuple(row) for row in stored] == flood


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
    first = [row for row in spine_rows() if TABLES[type(row)] not in LATER]
    rows = [tuple(row) for row in first]
    with closing(sqlite3.connect(path)) as conn:
        db = Database(conn, execute_plugins=False)
        MIGRATIONS.apply(db, stop_before="m002_channels")
        # A view of the time, which knew the old names.
        conn.execute("CREATE VIEW readings AS SELECT id, geometry FROM reading")
        for row in first:
            table = TABLES[type(row)]
            # What a table has got since is NULL in older rows.
            then = row[: len(conn.execute(f"PRAGMA table_info({table})").fetchall())]
            conn.execute(f"INSERT INTO {table} VALUES ({', '.join('?' * len(then))})", then)
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


def test_a_move_of_before_is_a_stand_with_what_had_been_skipped_and_voided(
    tmp_path: Path,
) -> None:
    path = tmp_path / "old.sqlite"
    later = {"move", *REGISTER_TABLES, *VALIDITY_TABLES, *WORK_TABLES, *GIVEN_UP_TABLES}
    later |= {*TAKEN_BACK_TABLES, *REASSESSING_TABLES}
    others = [row for row in spine_rows() if TABLES[type(row)] not in later]
    with closing(sqlite3.connect(path)) as conn:
        MIGRATIONS.apply(Database(conn, execute_plugins=False), stop_before="m007_stands")
        for row in others:
            table = TABLES[type(row)]
            then = row[: len(conn.execute(f"PRAGMA table_info({table})").fetchall())]
            conn.execute(f"INSERT INTO {table} VALUES ({', '.join('?' * len(then))})", then)
        (void_id, voided_ns) = conn.execute("SELECT id, at_utc_ns FROM void").fetchone()
        for number, how, left in ((1, "skip", "A1"), (2, "go to", "A2"), (3, "skip", "A3")):
            conn.execute(
                "INSERT INTO move VALUES (?, ?, 1, ?, ?, 1, 'A4', 2, 3)",
                (number, voided_ns - 2 + number, how, left),
            )
        conn.commit()
    writer = StoreWriter(path)
    first, _, last = writer.query("SELECT * FROM move ORDER BY id")
    assert (first["zone"], first["replicate"], first["skipped"]) == ("A4", 2, '[["A1", 1]]')
    assert (last["reopened"], last["skipped"]) == ("[]", '[["A1", 1], ["A3", 1]]')
    assert (first["after_void"], last["after_void"]) == (0, void_id)
    assert writer.query("SELECT after_reading FROM check_begin")[0]["after_reading"] is None
    writer.close()
    with closing(sqlite3.connect(path)) as conn:
        for change in ("UPDATE move SET zone = 'A1'", "DELETE FROM move"):
            with pytest.raises(sqlite3.IntegrityError, match="append-only"):
                conn.execute(change)


class Opened:
    """A pass that read T1 (91.4, limit 1.0) and Z0 (0.0, limit 0.3), and what came after it."""

    def __init__(self, writer: StoreWriter) -> None:
        self._writer = writer
        self._checks = self._pieces = 0
        writer.append(
            [row for row in spine_rows() if isinstance(row, r.ConnectionRow | r.SittingRow)]
        )
        self.check("pass", T1=(91.5, 91.4, 1.0), Z0=(0.0, 0.0, 0.3))

    def check(
        self, outcome: str, expanded: str = "0.1", **pieces: tuple[float, float, float]
    ) -> None:
        """A judged check that read pieces: mean, certified value, limit; and U of all."""
        self._checks += 1
        number, rows = self._checks, []
        rows.append(CheckBeginRow(number, number, "shore", "S1", "gloss", "20", 1, "p", "{}"))
        expires = 10**18 if outcome == "pass" else None
        rows.append(CheckJudgementRow(number, number, number, outcome, "", "", expires, number))
        for piece, (mean, certified, limit) in pieces.items():
            self._pieces += 1
            rows.append(
                PieceJudgementRow(
                    self._pieces, number, piece, "20", outcome, 3, str(mean), "0.1",
                    str(certified), str(mean - certified), expanded, str(limit), "0.5",
                    "gloss_unit", None, "",
                )
            )  # fmt: skip
        self._writer.append(rows)

    @property
    def state(self) -> tuple[str, int | None]:
        return tuple(
            self._writer.query("SELECT state, closing_check_id FROM brackets WHERE check_id = 1")[0]
        )


def test_a_check_that_reads_fewer_pieces_closes_no_bracket(writer: StoreWriter) -> None:
    opened = Opened(writer)
    opened.check("pass", Z0=(0.0, 0.0, 0.3))
    assert opened.state == ("open", None)
    opened.check("pass", T1=(91.2, 91.4, 1.0), Z0=(0.1, 0.0, 0.3))
    assert opened.state == ("bracketed", 3)


@pytest.mark.parametrize(
    "tile",
    [
        (71.4, 91.4, 50.0),  # a wider limit
        (71.4, 71.4, 1.0),  # another certified value
    ],
)
def test_a_bracket_is_closed_by_the_limits_and_values_of_its_opening(
    writer: StoreWriter, tile: tuple[float, float, float]
) -> None:
    opened = Opened(writer)
    opened.check("pass", T1=tile, Z0=(0.0, 0.0, 0.3))
    assert opened.state == ("suspect", 2)


def test_a_check_between_pass_and_fail_by_the_opening_s_limits_closes_nothing(
    writer: StoreWriter,
) -> None:
    opened = Opened(writer)
    opened.check("pass", T1=(92.39, 91.4, 2.0), Z0=(0.0, 0.0, 0.3))
    assert opened.state == ("open", None)


def test_a_failed_check_closes_badly_whatever_it_read(writer: StoreWriter) -> None:
    opened = Opened(writer)
    opened.check("fail", Z0=(1.0, 0.0, 0.3))
    assert opened.state == ("suspect", 2)


def fail_at_two_channels(writer: StoreWriter, at_20: tuple[str, str] | None) -> None:
    """A second check, of 20 and 60, whose T1 fails at 60; at 20 its outcome and U, if any."""
    rows: list[r.Row] = [
        CheckBeginRow(2, 2, "shore", "S1", "gloss", "20,60", 1, "p", "{}"),
        CheckJudgementRow(2, 2, 2, "fail", "", "", None, 2),
    ]
    found = [("60", "fail", "0.1"), *([("20", *at_20)] if at_20 else [])]
    for number, (channel, outcome, expanded) in enumerate(found, start=3):
        rows.append(
            PieceJudgementRow(
                number, 2, "T1", channel, outcome, 3, "91.4", "0.1", "91.4", "0", expanded,
                "1.0", "0.5", "gloss_unit", None, "",
            )
        )  # fmt: skip
    writer.append(rows)


@pytest.mark.parametrize(
    ("at_20", "state"),
    [
        (("pass", "0.1"), "open"),
        (("undecided", "0.1"), "open"),
        (("fail", "0.1"), "suspect"),
        (("undecided", "0"), "suspect"),  # it could not be judged there
        (None, "suspect"),
    ],
)
def test_a_check_that_failed_at_another_channel_closes_badly_only_where_it_judged_nothing_at_ours(
    writer: StoreWriter, at_20: tuple[str, str] | None, state: str
) -> None:
    opened = Opened(writer)
    fail_at_two_channels(writer, at_20)
    assert opened.state[0] == state


def test_an_undecided_check_that_found_a_piece_outside_its_limit_closes_badly(
    writer: StoreWriter,
) -> None:
    opened = Opened(writer)
    opened.check("undecided", T1=(97.7, 91.4, 1.0), Z0=(0.0, 0.0, 0.3))
    assert opened.state == ("suspect", 2)


def test_a_piece_that_could_not_be_judged_says_nothing_of_the_readings_before(
    writer: StoreWriter,
) -> None:
    opened = Opened(writer)
    opened.check("undecided", expanded="0", T1=(0.0, 91.4, 1.0), Z0=(0.0, 0.0, 0.3))
    assert opened.state == ("open", None)
    opened.check("pass", T1=(91.4, 91.4, 1.0), Z0=(0.0, 0.0, 0.3))
    assert opened.state == ("bracketed", 3)


@pytest.mark.parametrize(
    ("migration", "since"),
    [
        # What stood there let a piece without figures make readings suspect.
        (
            "m008_brackets",
            "WHERE o.check_id = p.id AND CAST(m.expanded_uncertainty AS REAL) > 0",
        ),
        # What stood there let a failure at another channel do so.
        ("m009_failed_channels", "AND m.channel = g.value AND m.outcome = 'fail'"),
    ],
)
def test_the_view_of_brackets_is_made_anew_in_a_store_from_before(
    tmp_path: Path, migration: str, since: str
) -> None:
    path = tmp_path / "old.sqlite"
    with closing(sqlite3.connect(path)) as conn:
        db = Database(conn, execute_plugins=False)
        MIGRATIONS.apply(db, stop_before=migration)
        (now,) = db.execute("SELECT sql FROM sqlite_master WHERE name = 'brackets'").fetchone()
        then = now.replace(since, since.rsplit(" AND ", maxsplit=1)[0])
        assert then != now
        conn.execute("DROP VIEW brackets")
        conn.execute(then)
        conn.commit()
    writer = StoreWriter(path)
    (found,) = writer.query("SELECT sql FROM sqlite_master WHERE name = 'brackets'")[0]
    assert found == now
    writer.close()


def test_the_view_of_readings_names_the_treatment_of_the_zone(writer: StoreWriter) -> None:
    writer.append(spine_rows())
    (row,) = writer.query("SELECT * FROM readings WHERE zone = 'A1'")
    assert (row["treatment"], row["treatment_name"], row["is_control"]) == ("wax", "Grebe wax", 0)


@pytest.mark.parametrize(
    ("deed", "told"),
    [
        ("DROP TRIGGER reading_needs_a_pass", "without trigger reading_needs_a_pass"),
        ("DROP VIEW brackets; CREATE VIEW brackets AS SELECT 1", "without view brackets"),
        (
            "CREATE TRIGGER swallow BEFORE INSERT ON reading BEGIN SELECT RAISE(IGNORE); END",
            "with trigger swallow",
        ),
    ],
)
def test_a_store_whose_guards_were_tampered_with_is_not_recorded_into(
    tmp_path: Path, deed: str, told: str
) -> None:
    path = tmp_path / "bench.sqlite"
    StoreWriter(path).close()
    with closing(sqlite3.connect(path)) as conn:
        conn.executescript(deed)
    with pytest.raises(StoreUnwritable, match=told):
        StoreWriter(path)


def test_a_table_view_or_index_of_one_s_own_does_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "bench.sqlite"
    StoreWriter(path).close()
    with closing(sqlite3.connect(path)) as conn:
        conn.executescript(
            "CREATE VIEW mine AS SELECT * FROM readings; CREATE INDEX quick ON reading (at_utc_ns)"
        )
    StoreWriter(path).close()


def test_a_database_of_another_program_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "other.sqlite"
    with closing(sqlite3.connect(path)) as conn:
        conn.executescript("CREATE TABLE songs (title TEXT)")
    before = path.read_bytes()
    with pytest.raises(StoreUnwritable, match="no store of Coatbench: got tables songs"):
        StoreWriter(path)
    assert path.read_bytes() == before


def test_a_new_store_is_the_one_that_the_migrations_make_step_by_step(tmp_path: Path) -> None:
    def made(db: Database) -> list[tuple[object, ...]]:
        return [
            tuple(row) for row in db.execute("SELECT type, name, tbl_name, sql FROM sqlite_master")
        ]

    with closing(sqlite3.connect(tmp_path / "steps.sqlite")) as conn:
        by_steps = Database(conn, execute_plugins=False)
        MIGRATIONS.apply(by_steps)
        writer = StoreWriter(tmp_path / "new.sqlite")
        assert made(writer.db) == made(by_steps)
        assert set(MIGRATIONS.applied(writer.db)) == set(MIGRATIONS.applied(by_steps))
        writer.close()


def test_a_journal_without_its_store_is_not_thrown_away(tmp_path: Path) -> None:
    path = tmp_path / "bench.sqlite"
    writer = StoreWriter(path)
    writer.append([note(1)])
    # As a daemon that was killed leaves it, and somebody moves the store alone.
    shutil.copy(f"{path}-wal", tmp_path / "kept-wal")
    writer.close()
    path.unlink()
    shutil.copy(tmp_path / "kept-wal", f"{path}-wal")
    with pytest.raises(StoreUnwritable, match="its journal is still here"):
        StoreWriter(path)
    assert Path(f"{path}-wal").stat().st_size > 0


def test_a_store_behind_a_symbolic_link_lies_with_its_journal_where_the_link_leads(
    tmp_path: Path,
) -> None:
    (tmp_path / "disk").mkdir()
    link, real = tmp_path / "bench.sqlite", tmp_path / "disk" / "bench.sqlite"
    link.symlink_to(real)
    for number in (1, 2):
        writer = StoreWriter(link)
        writer.append([note(number)])
        assert Path(f"{real}-wal").exists()
        writer.close()
    with StoreReader(link) as reader:
        assert reader.one("SELECT count(*) FROM note") == 2
    kept = tmp_path / "kept-wal"
    writer = StoreWriter(link)
    writer.append([note(3)])
    shutil.copy(f"{real}-wal", kept)
    # The link leads elsewhere from now on: what is committed there, nobody would find.
    link.unlink()
    link.symlink_to(tmp_path / "disk" / "other.sqlite")
    shutil.copy(real, tmp_path / "disk" / "other.sqlite")
    with pytest.raises(StoreUnwritable, match="no longer the file that was opened"):
        writer.append([note(4)])
    writer.close()
    real.unlink()
    shutil.copy(kept, f"{real}-wal")
    link.unlink()
    link.symlink_to(real)
    with pytest.raises(StoreUnwritable, match="its journal is still here"):
        StoreWriter(link)


@pytest.mark.parametrize("held", ["written", "read"])
def test_an_empty_store_that_another_program_has_open_is_told_at_once(
    tmp_path: Path, held: str
) -> None:
    path = tmp_path / "bench.sqlite"
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("CREATE TABLE songs (title)")
        other.execute("DROP TABLE songs")
        other.execute("BEGIN IMMEDIATE" if held == "written" else "BEGIN")
        other.execute("SELECT * FROM sqlite_master").fetchall()
        opening = ThreadPoolExecutor(1).submit(StoreWriter, path, LockWaits(0.1, 0.1, 0.02))
        try:
            with pytest.raises(StoreUnwritable, match="close the other program that writes"):
                opening.result(20)
        finally:
            # Whoever waits for it for ever is let go.
            other.execute("ROLLBACK")
    StoreWriter(path).close()


def test_an_empty_file_with_a_journal_and_other_pages_becomes_a_store(tmp_path: Path) -> None:
    path = tmp_path / "bench.sqlite"
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("PRAGMA page_size = 8192")
        other.execute("PRAGMA journal_mode = WAL").fetchall()
        other.execute("CREATE TABLE songs (title)")
        other.execute("DROP TABLE songs")
    writer = StoreWriter(path)
    writer.append(spine_rows())
    assert writer.query("PRAGMA integrity_check")[0][0] == "ok"
    assert writer.query("PRAGMA journal_mode")[0][0] == "wal"
    writer.close()


def test_a_store_with_two_names_is_refused(writer: StoreWriter) -> None:
    writer.close()
    other = writer.path.with_name("second.sqlite")
    other.hardlink_to(writer.path)
    with pytest.raises(StoreUnwritable, match="2 hard links"):
        StoreWriter(other)


def test_opening_a_store_does_not_load_what_takes_longer_than_the_command() -> None:
    pytest.importorskip("pandas")
    told = (
        "import sys, acquire.store; assert not {'numpy', 'pandas'} & set(sys.modules); "
        "import pandas; print(pandas.__name__)"
    )
    done = subprocess.run([sys.executable, "-c", told], capture_output=True, text=True, check=False)
    assert (done.stdout.strip(), done.stderr) == ("pandas", "")
