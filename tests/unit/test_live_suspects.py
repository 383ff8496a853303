"""Suspect readings are told where a failed check has opened places again, and only there."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from acquire.live.board import Board
from acquire.live.suspects import PATIENCE, Suspects
from tests.unit.seen import Seen

TOLD = (
    "check 2 failed: the readings since the last passed check are suspect; "
    "their places are open again"
)
FAILED = {"table": "check_judgement", "check_id": 2, "outcome": "fail"}
VOID = {"table": "void", "reading_id": 5, "reason": "dust"}


def standing(left: int, run_id: int = 1) -> dict[str, Any]:
    return {"run": {"run_id": run_id, "slots_left": left, "instrument": "shore"}}


@pytest.fixture
def suspects() -> Suspects:
    suspects = Suspects()
    assert suspects.stand(standing(2)) is None
    return suspects


def test_the_row_may_come_before_the_status_and_after_it(suspects: Suspects) -> None:
    suspects.hear(FAILED)
    assert suspects.stand(standing(2)) is None
    assert suspects.stand(standing(4)) == ("shore", TOLD)
    assert suspects.stand(standing(4)) is None
    assert suspects.stand(standing(6)) is None
    suspects.hear(FAILED)
    assert suspects.stand(standing(6)) == ("shore", TOLD)


def test_a_void_opens_a_place_and_makes_nothing_suspect(suspects: Suspects) -> None:
    suspects.hear(FAILED)
    suspects.hear(VOID)
    assert suspects.stand(standing(3)) is None
    suspects.hear(FAILED)
    assert suspects.stand(standing(3)) is None


def test_a_failed_check_that_opens_nothing_makes_nothing_suspect(suspects: Suspects) -> None:
    suspects.hear(FAILED)
    for _ in range(PATIENCE):
        assert suspects.stand(standing(2)) is None
    assert suspects.stand(standing(3)) is None


def test_a_passed_check_and_another_run_make_nothing_suspect(suspects: Suspects) -> None:
    suspects.hear({**FAILED, "outcome": "pass"})
    assert suspects.stand(standing(4)) is None
    suspects.hear(FAILED)
    assert suspects.stand(standing(8, run_id=2)) is None


@pytest.fixture
def seen(tmp_path: Path) -> Iterator[Seen]:
    seen = Seen(tmp_path)
    seen.yard.plug("shore")
    seen.yard.check("shore")
    seen.yard.begin()
    yield seen
    seen.close()


@pytest.mark.parametrize("kind", ["run", "watch"])
def test_run_and_watch_tell_it_in_their_story(seen: Seen, kind: str) -> None:
    board: Board = seen.run_board() if kind == "run" else seen.watch_board()
    seen.yard.clock.advance(1)
    seen.hear(seen.yard.press("shore", "80.1"))
    begun = seen.yard.acts.checks.begin("shore", seen.yard.clock.now())
    seen.hear(seen.yard.store(begun.rows))
    for value in ("95.6", "95.6", "0.0", "0.0"):
        seen.yard.clock.advance(1)
        seen.hear(seen.yard.press("shore", value))
    assert [h.text for h in board.story.happenings].count(TOLD) == 1
    assert str(board.story.happenings[-1]) == f"08:00:10 ! shore: {TOLD}"
