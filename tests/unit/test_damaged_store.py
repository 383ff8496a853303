"""A store with a damaged page: one message from whatever reads it, and no figure made of it."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.errors import StoreError
from acquire.store import StoreReader
from tests.unit.reported import small

BOATYARD = Path(__file__).parents[2] / "config" / "boatyard"


@pytest.fixture
def store(tmp_path: Path) -> Path:
    """The store of a small trial, with noise in the pages of its table of readings."""
    text = (BOATYARD / "bench.toml").read_text(encoding="utf-8")
    (tmp_path / "bench.toml").write_text(text.replace("boatyard.sqlite", "bench.sqlite"))
    yard = small(tmp_path)
    path = yard.bench.store
    yard.close()
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        (size,) = connection.execute("PRAGMA page_size").fetchone()
        (page,) = connection.execute(
            "SELECT rootpage FROM sqlite_schema WHERE name = 'reading'"
        ).fetchone()
    with path.open("r+b") as file:
        file.seek((page - 1) * size)
        file.write(b"\xa5" * size)
    return path


@pytest.mark.parametrize(
    "words",
    [
        ["export", "--all"],
        ["report", "small"],
        ["results", "small"],
        ["results", "small", "--format", "csv"],
        ["proof", "1"],
        ["export", "small"],
    ],
)
def test_whatever_reads_it_tells_of_it_once(
    store: Path, words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["--bench", str(store.with_name("bench.toml")), *words]) == 3
    told = capsys.readouterr()
    assert told.out == ""
    assert f"coatbench: the store {store} cannot be read to its end" in told.err
    assert "got     database disk image is malformed" in told.err
    assert "next" in told.err


def test_what_is_not_damaged_can_still_be_read(store: Path) -> None:
    with StoreReader(store) as reader:
        assert reader.one("SELECT count(*) FROM run") == 2
        with pytest.raises(StoreError):
            reader.one("SELECT sent_text FROM reading")
        with pytest.raises(StoreError):
            reader.rows("SELECT sent_text FROM reading")
        with pytest.raises(sqlite3.ProgrammingError):
            reader.rows("SELECT ?", ())
