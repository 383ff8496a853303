"""An index that hides rows is found, though every row fits its seal and every text is as it was."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.report.record.soundness import misfit_in
from acquire.store import StoreReader, indexes
from acquire.store.blank import blank_store
from acquire.store.finding import HAS_REGISTER
from acquire.store.fold import BULK
from acquire.store.verify import misfit_since, verify
from tests.unit.store.test_fold import loose
from tests.unit.store.test_seals import note, record
from tests.unit.stored import spine_rows


@pytest.fixture
def store(tmp_path: Path) -> Path:
    path = tmp_path / "bench.sqlite"
    record(path, [*spine_rows()])
    record(path, [note(2)], [loose(10), loose(11)])
    return path


def pretend(path: Path, index: str, made: str) -> None:
    """Make an index anew as another one, and put the text of the old one back."""
    with closing(sqlite3.connect(path, isolation_level=None)) as conn:
        (was,) = conn.execute("SELECT sql FROM sqlite_master WHERE name = ?", (index,)).fetchone()
        conn.execute(f"DROP INDEX {index}")
        conn.execute(f"CREATE INDEX {index} ON {made}")
        conn.execute("PRAGMA writable_schema = ON")
        conn.execute("UPDATE sqlite_master SET sql = ? WHERE name = ?", (was, index))
        (version,) = conn.execute("PRAGMA schema_version").fetchone()
        conn.execute(f"PRAGMA schema_version = {version + 1}")


PRETENDED = [
    ("check_serial", "check_begin(serial) WHERE id <> 2"),
    ("check_serial", "check_begin(serial || 'x')"),
    ("piece_judgement_check", "piece_judgement(check_id) WHERE 0"),
    ("reading_run", "reading(run_id) WHERE run_id IS NOT NULL AND id <> 4"),
    ("reading_run", "reading(run_id + 1) WHERE run_id IS NOT NULL"),
    ("reading_run", "reading(coalesce(run_id, 1))"),
    ("reading_check", "reading(check_id) WHERE role <> 'check'"),
    ("reading_loose", "reading(sitting_id) WHERE id > 5 AND role = 'loose'"),
    ("spectrum_of_connection", "spectrum(connection_id) WHERE 0"),
    ("trace_block_of_trace", "trace_block(trace_id, first + 1)"),
    ("seal_register", f"seal(id) WHERE id > 3 AND ({HAS_REGISTER})"),
]


@pytest.mark.parametrize(("index", "made"), PRETENDED)
def test_an_index_that_hides_rows_is_told_of_the_store_and_of_its_results(
    store: Path, index: str, made: str
) -> None:
    pretend(store, index, made)
    with StoreReader(store) as reader:
        assert reader.other_guards() == ([], [])
        assert f"has an index, {index}, that does not lead" in str(verify(reader).misfit)
        assert (index in str(misfit_since(reader, {"sitting": 1}))) or index == "seal_register"
    if index != "seal_register":
        assert f"has an index, {index}, that does not lead" in misfit_in(store, "gelcoat")


def test_an_index_that_hides_the_register_of_before_is_told(tmp_path: Path) -> None:
    path = tmp_path / "bench.sqlite"
    first, *others = spine_rows()
    record(path, [first])
    record(path, others)
    assert misfit_in(path, "gelcoat") == ""
    pretend(path, "seal_register", f"seal(id) WHERE id > 2 AND ({HAS_REGISTER})")
    assert "seal has an index, seal_register, that does not lead" in misfit_in(path, "gelcoat")


def test_openings_that_are_none_make_no_stretch_shorter(store: Path) -> None:
    pretend(store, "seal_upto", "seal(id)")
    assert "seal has an index, seal_upto, that does not lead" in misfit_in(store, "gelcoat")
    with StoreReader(store) as reader:
        assert "seal_upto" in str(verify(reader).misfit)


def test_an_index_of_ones_own_that_hides_rows_is_told_and_one_that_leads_to_them_is_not(
    store: Path,
) -> None:
    with closing(sqlite3.connect(store)) as conn:
        conn.execute("CREATE INDEX mine ON reading (run_id, value)")
    assert misfit_in(store, "gelcoat") == ""
    pretend(store, "mine", "reading (run_id, value) WHERE id <> 4")
    assert "reading has an index, mine, that does not lead" in misfit_in(store, "gelcoat")


def test_the_text_of_an_index_is_held_against_the_schema(store: Path) -> None:
    with closing(sqlite3.connect(store)) as conn:
        conn.execute("DROP INDEX reading_run")
        conn.execute("CREATE INDEX reading_run ON reading(run_id) WHERE run_id = 2")
    with StoreReader(store) as reader:
        assert "it is without index reading_run" in str(verify(reader).misfit)
    assert "it is without index reading_run" in misfit_in(store, "gelcoat")


def test_where_sqlite_cannot_check_one_table_it_checks_the_whole_store(
    store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sqlite3, "sqlite_version_info", (3, 32, 3))
    assert misfit_in(store, "gelcoat") == ""
    pretend(store, "seal_upto", "seal(id) WHERE 0")
    assert "seal_upto" in misfit_in(store, "gelcoat")


def test_every_index_of_a_table_in_bulk_is_looked_through() -> None:
    rows = blank_store().conn.execute(
        "SELECT name, tbl_name FROM sqlite_master WHERE type = 'index' AND sql IS NOT NULL"
    )
    made = {(name, table) for name, table in rows if table in BULK}
    assert {(one.name, one.table) for one in indexes.OF_BULK} == made
    for one in indexes.OF_BULK:
        (sql,) = (
            blank_store()
            .conn.execute("SELECT sql FROM sqlite_master WHERE name = ?", (one.name,))
            .fetchone()
        )
        assert sql.replace(" (", "(").endswith(
            f"{one.table}({', '.join(one.columns)})"
            + (f" WHERE {one.where}" if one.where != "1" else "")
        )


def test_the_command_says_briefly_what_to_do_and_that_heals(
    store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    record(store, [loose(number) for number in range(12, 90)])
    pretend(store, "reading_loose", "reading(sitting_id) WHERE 0")
    assert run(["store", "verify", str(store)]) == 1
    told = capsys.readouterr().out
    assert "DOES NOT FIT: reading has an index, reading_loose, that does not lead" in told
    assert "(and many more)" in told
    assert "every row is what was recorded, but may not be found" in told
    assert "run the one statement REINDEX" in told
    assert len(told.splitlines()) == 6
    with closing(sqlite3.connect(store)) as conn:
        conn.execute("REINDEX")
    assert run(["store", "verify", str(store)]) == 0


def test_another_fault_of_the_file_is_told_in_plain_words(
    store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with closing(sqlite3.connect(store, isolation_level=None)) as conn:
        conn.execute("CREATE INDEX mine ON reading (value)")
        ((page,),) = conn.execute("SELECT rootpage FROM sqlite_master WHERE name = 'mine'")
        ((size,),) = conn.execute("PRAGMA page_size")
    with store.open("r+b") as file:
        # How many bytes of the page are lost in fragments: byte 7 of its header (SQLite's file
        # format, section 1.6).
        file.seek((page - 1) * size + 7)
        file.write(b"\x09")
    assert run(["store", "verify", str(store)]) == 1
    told = capsys.readouterr().out
    assert "DOES NOT FIT: the file is damaged: SQLite says" in told
    assert "copy it with its -wal and .heads to a sound disk" in told
