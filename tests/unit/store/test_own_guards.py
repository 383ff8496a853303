"""The store's own tables and guards are known by a digest, so that reading makes none anew."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from acquire.store import StoreReader
from acquire.store.blank import copy_blank
from acquire.store.guards import OWN, digest_of, other_guards, own_guards

_READ = """
import sys
from pathlib import Path
from acquire.store import StoreReader
with StoreReader(Path(sys.argv[1])) as store:
    print(store.other_guards(), "sqlite_utils" in sys.modules)
"""


@pytest.fixture
def made(tmp_path: Path) -> Path:
    path = tmp_path / "bench.sqlite"
    conn = sqlite3.connect(path)
    copy_blank(conn)
    conn.close()
    return path


def test_the_digest_is_that_of_the_tables_and_guards_as_the_migrations_make_them() -> None:
    assert digest_of(own_guards()) == OWN, "put the new digest into acquire/store/guards.py"


def test_a_sound_store_is_read_without_the_library_that_makes_one(made: Path) -> None:
    found = subprocess.run(
        [sys.executable, "-c", _READ, str(made)], capture_output=True, text=True, check=True
    )
    assert found.stdout.strip() == "([], []) False"


def test_a_guard_taken_away_or_added_is_found_by_the_comparison_whole(made: Path) -> None:
    conn = sqlite3.connect(made)
    (guard, sql) = conn.execute(
        "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' ORDER BY name"
    ).fetchone()
    conn.execute(f'DROP TRIGGER "{guard}"')
    assert other_guards(conn) == ([f"trigger {guard}"], [])
    conn.execute(sql)
    conn.execute("CREATE TABLE mine (a)")
    assert other_guards(conn) == ([], [])
    conn.execute("CREATE TRIGGER odd AFTER INSERT ON mine BEGIN DELETE FROM mine; END")
    conn.commit()
    with StoreReader(made) as store:
        assert store.other_guards() == ([], ["trigger odd"])
    conn.close()
