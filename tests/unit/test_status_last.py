"""The status of an instrument's last reading, and what it costs to ask for it."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from acquire.cli.status import status_lines
from acquire.store import StoreWriter
from acquire.store.shelf import Shelf
from tests.yard import Yard


class Listening(StoreWriter):
    """A writer that keeps what it was asked."""

    def __init__(self, path: Path) -> None:
        super().__init__(path)
        self.asked: list[str] = []

    def query(self, sql: str, arguments: Sequence[object] = ()) -> list[sqlite3.Row]:
        self.asked.append(sql)
        return super().query(sql, arguments)


@pytest.fixture
def yard(yard: Yard) -> Yard:
    yard.check("shore")
    yard.begin()
    return yard


def stands(yard: Yard) -> dict[str, Any]:
    return yard.act(yard.acts.status)


def test_a_last_reading_that_was_voided_is_told_as_void(yard: Yard) -> None:
    yard.press("shore", "80.1")
    assert "  last   80.1 GU at 20° (reading 5), accepted" in status_lines(stands(yard))
    yard.act(lambda at: yard.acts.readings.void(5, "dust", at))
    assert "  last   80.1 GU at 20° (reading 5), void: dust" in status_lines(stands(yard))


def test_the_last_reading_of_the_run_is_known_after_a_loose_one(yard: Yard) -> None:
    yard.press("shore", "80.1")
    yard.press("shore", "33.0", channel="60")
    last = stands(yard)["run"]["last_taken"]
    assert (last["reading_id"], last["value"], last["zone"]) == (5, "80.1", "A1")


def test_no_status_goes_through_the_brackets_of_a_store_of_years(yard: Yard) -> None:
    yard.press("shore", "80.1")
    yard.press("shore", "33.0", channel="60")
    writer = Listening(yard.bench.store.with_name("beside.sqlite"))
    yard.desk.shelf = Shelf(writer)
    stands(yard)
    writer.close()
    assert writer.asked
    assert not [sql for sql in writer.asked if "FROM readings" in sql]


def test_what_keeps_a_meter_away_is_told_line_by_line_and_is_what_is_next(yard: Yard) -> None:
    found = stands(yard)
    away = (
        "shore: profile mine has 2 faults:\n  kind: got 4\n  text: got 5\nNext: mend profile mine"
    )
    own = {**found["instruments"][0], "connected": False, "message": away}
    lines = status_lines({**found, "instruments": [own]})
    at = lines.index("  link   NOT THERE: shore: profile mine has 2 faults:")
    assert [line.strip() for line in lines[at + 1 : at + 3]] == ["kind: got 4", "text: got 5"]
    assert "  next   mend profile mine; then coatbench stop and coatbench serve" in lines
    assert not any("plug shore in" in line for line in lines)
