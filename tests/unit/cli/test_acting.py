"""What needs no instrument is recorded also while nobody serves the bench."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from acquire.cli.reach import acting, reach
from acquire.control.door import door_path
from acquire.errors import ControlError, StoreInUse
from acquire.settings import config_dir
from acquire.store import StoreReader, StoreWriter

PLAN = config_dir() / "boatyard" / "trial.toml"


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    shutil.copy(config_dir() / "boatyard" / "bench.toml", tmp_path)
    return tmp_path / "bench.toml"


def store_of(bench: Path) -> Path:
    return bench.parent / "boatyard.sqlite"


def test_a_plan_is_kept_without_a_daemon_and_no_door_is_left_open(bench: Path) -> None:
    with acting(bench) as client:
        client.call("keep_trial", text=PLAN.read_text("utf-8"), source="trial.toml")
    store = store_of(bench)
    assert not door_path(store).exists()
    with StoreReader(store) as reader:
        assert [row["trial"] for row in reader.rows("SELECT trial FROM trial")] == ["gelcoat-1"]
        # Nobody watched an instrument, so none is said to have been here.
        assert reader.rows("SELECT * FROM instrument") == []
    with pytest.raises(ControlError, match="no daemon runs"):
        reach(bench)


def test_a_store_that_another_daemon_holds_is_told_and_not_shared(bench: Path) -> None:
    with acting(bench):
        pass
    writer = StoreWriter(store_of(bench))
    try:
        with pytest.raises(StoreInUse), acting(bench):
            pass
    finally:
        writer.close()
