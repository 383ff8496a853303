"""A store is held against its seals: whatever was changed later, the first such row is named."""

from __future__ import annotations

import ast
import hashlib
import sqlite3
from collections.abc import Callable, Sequence
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.cli.entry import run
from acquire.errors import StoreUnwritable
from acquire.store import StoreReader, StoreWriter
from acquire.store import rows as r
from acquire.store.rows import TABLES, Row
from acquire.store.seals import GROWN, NO_DIGEST, Head, by_table, row_line
from acquire.store.verify import Verdict, misfit_since, verify
from tests.unit.stored import spine_rows

Change = Callable[[sqlite3.Connection], object]


def note(number: int, text: str = "sun on the bench") -> r.NoteRow:
    return r.NoteRow(number, number, None, "", "", text)


@pytest.fixture
def store(tmp_path: Path) -> Path:
    path = tmp_path / "bench.sqlite"
    record(path, [*spine_rows()], [note(2), note(3), note(4)], [note(5)])
    return path


def record(path: Path, *commits: list[Row]) -> None:
    writer = StoreWriter(path)
    try:
        for commit in commits:
            writer.append(commit)
    finally:
        writer.close()


def held(path: Path, wanted: dict[int, str] | None = None) -> Verdict:
    with StoreReader(path) as reader:
        return verify(reader, wanted)


def misfit(path: Path, wanted: dict[int, str] | None = None) -> str:
    return str(held(path, wanted).misfit)


def strangely(path: Path, *changes: str) -> None:
    """What somebody does who knows SQLite: the guards are taken away and put back again."""
    with closing(sqlite3.connect(path)) as conn:
        triggers = conn.execute(
            "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
        ).fetchall()
        for name, _ in triggers:
            conn.execute(f"DROP TRIGGER {name}")
        for change in changes:
            conn.execute(change)
        for _, sql in triggers:
            conn.execute(sql)
        conn.commit()


def test_a_store_as_it_was_recorded_fits_its_seals(store: Path) -> None:
    found = held(store)
    assert found.misfit is None
    # The opening seal, and one a commit.
    assert found.head.seal_id == 4
    assert found.rows == len(spine_rows()) + 4


def test_the_digest_of_a_seal_can_be_computed_by_anybody_who_reads_its_description(
    tmp_path: Path,
) -> None:
    path = tmp_path / "bench.sqlite"
    record(path, [note(1, "a’b\n"), note(2)])
    # Written out by hand from the description, with the standard library alone.
    upto = ", ".join(f"{table} 0" for table in TABLES.values())
    first = hashlib.sha256(NO_DIGEST + upto.encode()).digest()
    lines = (
        b"note 1 2\n(1, 1, None, '', '', 'a\\u2019b\\n')\n"
        b"(2, 2, None, '', '', 'sun on the bench')\n"
    )
    assert held(path).head == Head(2, hashlib.sha256(first + lines).digest())


@given(
    st.tuples(
        st.integers(-(2**63), 2**63 - 1),
        st.none() | st.text(),
        st.floats(allow_nan=False),
        st.binary(),
    )
)
def test_the_line_of_a_row_is_plain_and_tells_the_row(row: tuple[object, ...]) -> None:
    line = row_line(row)
    assert b"\n" not in line
    assert ast.literal_eval(line.decode("ascii")) == row


@pytest.mark.parametrize("table", TABLES.values())
def test_a_row_of_any_table_that_was_changed_in_any_column_is_named(
    store: Path, table: str
) -> None:
    kind = next(kind for kind, name in TABLES.items() if name == table)
    with closing(sqlite3.connect(store)) as conn:
        (row_id,) = conn.execute(f"SELECT max(id) FROM {table}").fetchone()
        columns = conn.execute(f"PRAGMA table_info({table})").fetchall()
    assert [column[1] for column in columns] == list(kind._fields)
    plain = store.read_bytes()
    for _, column, sort, *_ in columns[1:]:
        store.write_bytes(plain)
        other = {
            "INTEGER": f"coalesce({column}, 0) + 1",
            "REAL": f"coalesce({column}, 0.0) + 0.5",
            "TEXT": f"coalesce({column}, '') || 'x'",
            "BLOB": f"CAST(coalesce({column}, '') || 'x' AS BLOB)",
        }[sort]
        with closing(sqlite3.connect(store)) as conn:
            conn.execute("PRAGMA ignore_check_constraints = ON")
            conn.execute(f"DROP TRIGGER {table}_no_update")
            conn.execute(f"UPDATE {table} SET {column} = {other} WHERE id = {row_id}")
            conn.commit()
        assert misfit(store) == f"{table} {row_id} is not what was recorded", column


def test_a_row_that_was_removed_put_in_or_exchanged_is_named(store: Path) -> None:
    plain = store.read_bytes()
    for change, told in (
        ("DELETE FROM note WHERE id = 3", "note 3 is missing"),
        ("DELETE FROM note WHERE id = 5", "note 5 is missing"),
        (
            "INSERT INTO note SELECT 6, at_utc_ns, sitting_id, trial, stage, text FROM note "
            "WHERE id = 5",
            "note 6 was put in by another program: no seal has it",
        ),
        (
            "INSERT INTO note SELECT -1, at_utc_ns, sitting_id, trial, stage, text FROM note "
            "WHERE id = 5",
            "note -1 was put in by another program: no seal has it",
        ),
        ("UPDATE note SET id = 9 WHERE id = 2", "note 2 is missing"),
    ):
        store.write_bytes(plain)
        strangely(store, change)
        assert misfit(store) == told


def test_a_change_with_the_sum_of_its_row_made_anew_is_found_by_the_digest(store: Path) -> None:
    with closing(sqlite3.connect(store)) as conn:
        row = conn.execute("SELECT * FROM note WHERE id = 5").fetchone()
    line = row_line((*row[:-1], "rain"))
    import zlib

    sums = zlib.crc32(line).to_bytes(4, "big").hex()
    strangely(
        store,
        "UPDATE note SET text = 'rain' WHERE id = 5",
        f"UPDATE seal SET sums = x'{sums}' WHERE id = 4",
    )
    assert misfit(store) == "seal 4 does not fit what it seals (note 5 5)"


def test_seals_that_were_removed_changed_or_made_up_are_found(store: Path) -> None:
    plain = store.read_bytes()
    for change, told in (
        ("DELETE FROM seal WHERE id = 2", "seal 2 is missing"),
        ("DELETE FROM seal WHERE id = 4", "note 5 was put in by another program: no seal has it"),
        ("UPDATE seal SET digest = zeroblob(32) WHERE id = 3", "seal 3 does not fit"),
        ("UPDATE seal SET stretches = 'note 2' WHERE id = 3", "seal 3 names rows"),
        ("UPDATE seal SET stretches = 'seal 1 2' WHERE id = 3", "seal 3 names rows"),
        ("UPDATE seal SET stretches = 'note 1 4' WHERE id = 3", "seal 3 names rows"),
        ("UPDATE seal SET stretches = 'note 5 4' WHERE id = 3", "seal 3 names rows"),
        ("UPDATE seal SET stretches = 'note 4 4, note 4 4' WHERE id = 3", "seal 3 names rows"),
        ("UPDATE seal SET sums = CAST(sums || x'00' AS BLOB) WHERE id = 3", "seal 3 does not fit"),
        ("UPDATE seal SET upto = 'note 7' WHERE id = 1", "seal 1 does not fit"),
    ):
        store.write_bytes(plain)
        strangely(store, change)
        assert misfit(store).startswith(told)


@pytest.mark.parametrize("number", [2, 0, -1])
def test_a_row_put_in_where_a_number_was_left_out_is_named(tmp_path: Path, number: int) -> None:
    store = tmp_path / "gap.sqlite"
    record(store, [note(1)], [note(3)])
    assert held(store).misfit is None
    strangely(store, f"INSERT INTO note VALUES ({number}, 6, NULL, '', '', 'mine')")
    assert misfit(store) == f"note {number} was put in by another program: no seal has it"


def test_an_end_that_was_cut_off_or_made_anew_is_found_by_a_seal_known_from_elsewhere(
    store: Path,
) -> None:
    head = held(store).head
    known = {head.seal_id: head.digest.hex()}
    assert held(store, known).misfit is None
    plain = store.read_bytes()
    strangely(store, "DELETE FROM note WHERE id = 5", "DELETE FROM seal WHERE id = 4")
    assert held(store).misfit is None, "a chain alone cannot tell"
    assert (
        misfit(store, known)
        == "seal 4 is missing: the end of the store was cut off, or an older copy was put back"
    )
    record(store, [note(5, "no sun at all")])
    assert held(store).misfit is None
    assert misfit(store, known).startswith("seal 4 has the digest ")
    store.write_bytes(plain)
    record(store, [note(6)])
    assert held(store, known).misfit is None, "what was recorded since does no harm"


def test_a_row_put_in_while_no_daemon_ran_keeps_the_next_one_from_recording(store: Path) -> None:
    with closing(sqlite3.connect(store)) as conn:
        conn.execute("INSERT INTO note VALUES (6, 6, NULL, '', '', 'mine')")
        conn.commit()
    with pytest.raises(StoreUnwritable, match="note 6, which no seal has"):
        StoreWriter(store)
    assert misfit(store) == "note 6 was put in by another program: no seal has it"


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE seal SET stretches = 'note 2' WHERE id = 3",
        "UPDATE seal SET upto = 'x' WHERE id = 1",
    ],
)
def test_seals_that_cannot_be_read_are_told_and_not_recorded_behind(
    store: Path, change: str
) -> None:
    strangely(store, change)
    with pytest.raises(StoreUnwritable, match="the seals of the store"):
        StoreWriter(store)
    assert misfit(store).startswith("seal ")


def test_what_is_recorded_while_seals_are_read_passes_for_no_row_put_in(store: Path) -> None:
    class Interrupted(StoreReader):
        def one(self, sql: str, arguments: Sequence[object] = ()) -> Any:
            if waiting and "min(id)" in sql:
                record(self.path, waiting.pop())
            return super().one(sql, arguments)

    waiting = [[note(6)]]
    with Interrupted(store) as reader:
        assert misfit_since(reader, {}) is None
    assert not waiting
    assert held(store).misfit is None


def test_guards_that_were_taken_away_are_told_though_every_row_fits(store: Path) -> None:
    with closing(sqlite3.connect(store)) as conn:
        conn.execute("DROP TRIGGER note_no_update")
        conn.commit()
    assert misfit(store) == (
        "every row fits, but its guards are not those of Coatbench: "
        "it is without trigger note_no_update"
    )


def test_a_store_of_before_is_sealed_as_it_is_when_it_is_opened(store: Path) -> None:
    rows = held(store).rows
    with closing(sqlite3.connect(store)) as conn:
        conn.execute("DROP TABLE seal")
        for index in ("reading_loose", "assignment_run", "spectrum_of_connection"):
            conn.execute(f"DROP INDEX {index}")
        conn.execute("DELETE FROM _sqlite_migrations WHERE name IN ('m010_seals', 'm021_finding')")
        conn.commit()
    record(store, [note(6)])
    found = held(store)
    assert (found.misfit, found.rows) == (None, rows + 1)
    strangely(store, "UPDATE note SET text = 'rain' WHERE id = 2")
    assert misfit(store) == "note 2 is not what was recorded"


def test_a_column_added_later_is_sealed_where_it_says_something_and_breaks_no_older_seal() -> None:
    before = (1, 2, 3, "pass", "inside", "run", None, 7)
    assert row_line((*before, None, None), "check_judgement") == row_line(before, "check_judgement")
    assert row_line((*before, None, "x"), "check_judgement") != row_line(before, "check_judgement")
    # What was NULL within the columns of then is sealed as NULL.
    assert row_line((*before[:-1], None), "check_judgement").endswith(b"None)")


def test_of_a_table_that_has_grown_only_what_it_has_got_since_is_left_out() -> None:
    before = (*range(GROWN["certificate"] - 1), None)
    assert row_line(before, "certificate") == ascii(before).encode()
    assert row_line((*before, None), "certificate") == ascii(before).encode()


def test_rows_of_a_commit_are_sealed_in_the_order_of_their_numbers() -> None:
    ((stretch, lines),) = by_table([note(3), note(2)], {r.NoteRow: "note"})
    assert str(stretch) == "note 2 3"
    assert lines == [row_line(note(2)), row_line(note(3))]


def test_a_commit_that_fails_leaves_the_chain_as_it_was(store: Path) -> None:
    writer = StoreWriter(store)
    try:
        with pytest.raises(StoreUnwritable):
            writer.append([note(6), note(6)])
        writer.append([note(6)])
    finally:
        writer.close()
    assert held(store).misfit is None


def test_the_command_names_the_first_row_that_does_not_fit(
    store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    head = held(store).head
    assert run(["store", "verify", str(store), "--seal", str(head)]) == 0
    assert "every row is what was recorded" in capsys.readouterr().out
    strangely(store, "UPDATE reading SET text = '99.9' WHERE id = 1")
    assert run(["store", "verify", str(store)]) == 1
    told = capsys.readouterr().out
    assert "DOES NOT FIT: reading 1 is not what was recorded" in told
    assert "next: keep this file as it is" in told
    assert run(["store", "verify", str(store), "--seal", "4:12"]) == 2
    assert "is no NUMBER:DIGEST" in capsys.readouterr().err
