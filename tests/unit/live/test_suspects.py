"""Suspect readings are told where a failed check has made some, of whatever run, and once."""

from __future__ import annotations

import pytest

from acquire.live.board import Board
from acquire.live.past import recall
from acquire.live.suspects import Suspects
from acquire.live.verdict import verdict
from acquire.store import StoreReader
from tests.unit.seen import Seen

TOLD = (
    "check 2 found the meter outside its limit: 1 reading of run 1 (gelcoat, bare) is suspect and "
    "counts no more; the places are open again, and results are reckoned without it from now on "
    "(coatbench report gelcoat)"
)


def fail_a_check(seen: Seen) -> None:
    begun = seen.yard.acts.checks.begin("shore", seen.yard.clock.now())
    seen.hear(seen.yard.store(begun.rows))
    seen.press("95.6", "95.6", "0.0", "0.0")


def told(board: Board) -> list[str]:
    return [str(h) for h in board.story.happenings if "suspect" in h.text]


@pytest.mark.parametrize("kind", ["run", "watch"])
def test_run_and_watch_tell_it_in_their_story(seen: Seen, kind: str) -> None:
    board: Board = seen.run_board() if kind == "run" else seen.watch_board()
    seen.press("80.1")
    fail_a_check(seen)
    seen.press("80.2")
    assert told(board) == [f"08:00:10 ! shore: {TOLD}"]


def test_a_check_that_scattered_outside_its_limit_is_told_too(seen: Seen) -> None:
    board = seen.run_board()
    seen.press("80.1")
    begun = seen.yard.acts.checks.begin("shore", seen.yard.clock.now())
    seen.hear(seen.yard.store(begun.rows))
    seen.press("99.5", "98.9", "0.0", "0.0")
    seen.press("80.2")
    assert told(board) == [f"08:00:10 ! shore: {TOLD}"]
    late = seen.watch_board()
    with StoreReader(seen.yard.bench.store) as store:
        recall(late, store, seen.yard.clock.now().utc_ns)
    assert told(late) == [f"08:00:10 ! shore: {TOLD}"]


def test_suspects_of_a_run_that_is_finished_are_told_too(seen: Seen) -> None:
    board = seen.watch_board()
    seen.press("80.1")
    seen.yard.act(lambda at: seen.yard.acts.runs.finish("done", at))
    fail_a_check(seen)
    assert told(board) == [f"08:00:10 ! shore: {TOLD}"]


def test_a_failed_check_that_makes_nothing_suspect_tells_of_none(seen: Seen) -> None:
    board = seen.watch_board()
    seen.press("80.1")
    number = seen.yard.readings()[-1]["reading_id"]
    assert isinstance(number, int)
    seen.yard.act(lambda at: seen.yard.acts.readings.void(number, "dust", at))
    fail_a_check(seen)
    assert told(board) == []


def test_a_board_opened_late_recalls_it_once_at_its_moment(seen: Seen) -> None:
    seen.press("80.1")
    seen.yard.act(lambda at: seen.yard.acts.runs.finish("done", at))
    fail_a_check(seen)
    seen.yard.clock.advance(60)
    late = seen.watch_board()
    assert told(late) == []
    late = seen.watch_board()
    with StoreReader(seen.yard.bench.store) as store:
        recall(late, store, seen.yard.clock.now().utc_ns)
    seen.hear([])
    assert told(late) == [f"08:00:10 ! shore: {TOLD}"]


def test_what_fails_between_the_recall_and_the_first_status_is_told(seen: Seen) -> None:
    seen.press("80.1")
    suspects = Suspects()
    suspects.know(1, 0)
    fail_a_check(seen)
    assert suspects.stand(seen.status()) == ("shore", TOLD)
    assert suspects.stand(seen.status()) is None


def test_the_verdict_of_a_failed_check_names_what_it_made_suspect(seen: Seen) -> None:
    seen.press("80.1", "80.2")
    fail_a_check(seen)
    with StoreReader(seen.yard.bench.store) as store:
        _, lines = verdict(store, 2, seen.yard.clock.now().utc_ns)
    assert (
        "check 2 found the meter outside its limit: 2 readings of run 1 (gelcoat, bare) are "
        "suspect and count no more; the places are open again, and results are reckoned without "
        "them from now on (coatbench report gelcoat)" in lines
    )
