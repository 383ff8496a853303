"""A run that the gate refuses is a row: when, of what, with which instrument, and why."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from acquire.errors import CoatbenchError, Refused
from tests.unit.seen import Seen
from tests.yard import Yard


def refused(yard: Yard) -> list[tuple[Any, ...]]:
    found = yard.writer.query(
        "SELECT instrument, message FROM incident WHERE kind = 'run refused' ORDER BY id"
    )
    return [tuple(row) for row in found]


def begin(yard: Yard) -> None:
    with pytest.raises(Refused):
        yard.begin()


def test_a_run_without_a_check_is_refused_and_kept(yard: Yard) -> None:
    begin(yard)
    assert refused(yard) == [
        (
            "shore",
            "a run of gelcoat (gloss20, bare) with shore was refused: no check: shore "
            "has not been checked",
        )
    ]


def test_each_reason_is_kept_once_and_not_at_every_try(yard: Yard) -> None:
    for _ in range(3):
        begin(yard)
    assert len(refused(yard)) == 1
    yard.check("shore", tile="99.9")
    begin(yard)
    yard.clock.advance(61)
    begin(yard)
    told = refused(yard)
    assert len(told) == 3
    assert "the last check of shore failed: T1 at 20° read 99.90 GU" in told[1][1]
    assert told[2] == told[1]


def test_what_is_asked_of_an_absent_meter_is_kept_too(yard: Yard) -> None:
    yard.unplug("shore")
    begin(yard)
    assert refused(yard)[0][1].endswith("was refused: not connected: shore is gone")


def test_what_was_begun_or_never_came_to_the_gate_is_not_kept(yard: Yard) -> None:
    with pytest.raises(CoatbenchError):
        yard.begin(stage="polished")
    yard.check("shore")
    yard.begin()
    begin(yard)
    assert refused(yard) == []


def test_it_is_told_on_the_screens(tmp_path: Path) -> None:
    seen = Seen(tmp_path)
    seen.yard.plug("shore")
    board = seen.watch_board()
    begin(seen.yard)
    (told,) = seen.hear(seen.yard.refused_last)
    assert told.text.startswith("a run of gelcoat (gloss20, bare) with shore was refused")
    assert board.story.happenings[-1] == told
    seen.close()
