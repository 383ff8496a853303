"""The screen of washing: keys that count, counts that are stored rows, checkpoints."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from acquire.live.board import Ask
from acquire.live.canvas import FULL
from acquire.live.washboard import WashBoard, WashScreen
from acquire.settings import parse_plan
from acquire.trial.urgency import Due, Urgency
from tests.unit.seen import Seen
from tests.unit.worked_yard import PLAN, shown, story

TRIAL = parse_plan(PLAN, "trial.toml")


@pytest.fixture
def seen(tmp_path: Path) -> Iterator[Seen]:
    found = Seen(tmp_path)
    found.yard.act(lambda at: found.yard.acts.trials.keep(TRIAL, "", at))
    yield found
    found.close()


def board_of(seen: Seen, *zones: str) -> WashBoard:
    board = WashBoard(story(seen), plan=TRIAL, zones=zones or ("A1", "A2", "A3"))
    board.recall(seen.yard.shelf.worked.washes("quay-1"))
    seen.boards.append(board)
    return board


def test_one_key_is_one_wash_of_all_zones_that_are_washed_here(seen: Seen) -> None:
    board = board_of(seen, "A1", "A3")
    assert board.press(" ") == [
        Ask("wash", {"trial": "quay-1", "zones": ["A1", "A3"], "washes": 1, "by_key": True})
    ]
    # Nothing is counted before it is stored.
    assert board.counts == {"A1": 0, "A2": 0, "A3": 0}
    seen.press_keys(board, " ", "enter")
    assert board.counts == {"A1": 2, "A2": 0, "A3": 2}


def test_washes_that_another_terminal_counts_are_seen_and_those_of_before_recalled(
    seen: Seen,
) -> None:
    first, second = board_of(seen), board_of(seen)
    seen.press_keys(first, " ")
    assert second.counts["A1"] == 1
    assert board_of(seen).counts["A1"] == 1


def test_a_checkpoint_is_told_when_it_is_reached_and_stands_while_it_lasts(seen: Seen) -> None:
    board = board_of(seen)
    seen.press_keys(board, "    ")
    assert "1 wash to go to wash-5" in shown(WashScreen(board, FULL), 90, 30)
    seen.press_keys(board, " ")
    assert "CHECKPOINT wash-5 reached by A1, A2, A3 (5 washes)" in board.message
    assert "CHECKPOINT wash-5 reached" in shown(WashScreen(board, FULL), 90, 30)
    seen.press_keys(board, " ")
    assert "CHECKPOINT" not in shown(WashScreen(board, FULL), 90, 30)


def test_a_checkpoint_says_what_is_due_there_as_the_store_stands(seen: Seen) -> None:
    board = board_of(seen)
    due = [Due(Urgency.RATE, "quay-1", "rate wash-5: 3 ratings to give", "coatbench rate quay-1")]
    board.due_at = lambda stage: list(due) if stage == "wash-5" else []
    seen.press_keys(board, *"     ")
    screen = WashScreen(board, FULL)
    assert "(5 washes). rate wash-5: 3 ratings to give. Next: coatbench rate" in board.message
    assert "checkpoint quay-1" not in shown(screen, 200, 30)
    due.clear()
    of = {"trial": "quay-1", "scale": "water", "stage": "wash-5", "zone": "A1", "rater": "Ada"}
    seen.grant(board, [Ask("rate", {**of, "step": 1})])
    assert "all is taken there. Next: wash on" in shown(screen, 200, 30)


def test_one_less_asks_why_and_a_refusal_changes_nothing(seen: Seen) -> None:
    board = board_of(seen)
    seen.press_keys(board, " ", "-", "twice", "enter")
    assert board.counts["A1"] == 0
    seen.press_keys(board, "-", "again", "enter")
    assert board.counts["A1"] == 0
    assert "0 or more" in board.message


def test_other_zones_are_chosen_by_name_in_any_case(seen: Seen) -> None:
    board = board_of(seen)
    seen.press_keys(board, "z", "a3, a1", "enter", " ")
    assert board.counts == {"A1": 1, "A2": 0, "A3": 1}
    seen.press_keys(board, "z", "b9", "enter")
    assert board.message == "no zone b9; there are A1, A2, A3"
    seen.press_keys(board, "z", "enter", " ")
    assert board.counts == {"A1": 2, "A2": 1, "A3": 2}


@pytest.mark.parametrize("size", [(20, 4), (60, 10), (110, 40)])
def test_the_screen_fills_every_size_and_no_more(seen: Seen, size: tuple[int, int]) -> None:
    board = board_of(seen)
    seen.press_keys(board, " ")
    lines = shown(WashScreen(board, FULL), *size).split("\n")
    assert len(lines) == size[1]


def test_a_counter_that_counts_here_is_named_with_its_strokes_and_what_was_odd(
    seen: Seen,
) -> None:
    board = board_of(seen)
    board.counts_by({"counter": "hub", "over": 1, "strokes_per_wash": 4})
    screen = shown(WashScreen(board, FULL), 110, 30)
    assert "counted by hub: stroke 1 of 4 of the next wash" in screen
    told = {"table": "incident", "id": 1, "instrument": "hub", "kind": "wash counter",
            "message": "hub: its count leaps from 3 to 90", "at_utc_ns": 0}  # fmt: skip
    board.on_row(told)
    # A wash that is counted after it does not hide it; a key says that it was read.
    seen.yard.act(lambda at: seen.yard.acts.washes.count("quay-1", [], 1, "typed", at))
    assert "leaps from 3 to 90" in shown(WashScreen(board, FULL), 110, 30)
    board.press(" ")
    assert "leaps from 3 to 90" not in shown(WashScreen(board, FULL), 110, 30)


def test_strokes_that_nobody_counted_stand_on_the_screen_until_a_wash_is_counted(
    seen: Seen,
) -> None:
    board = board_of(seen)
    board.uncounted = ["hub was stroked 4 times at 14:02, and no wash was counted for it"]
    assert "hub was stroked 4 times" in shown(WashScreen(board, FULL), 110, 30)
    board.press("?")
    board.press("q")  # a key that does no more than close the page of keys
    assert "hub was stroked 4 times" in shown(WashScreen(board, FULL), 110, 30)
    seen.press_keys(board, " ")
    assert "hub was stroked" not in shown(WashScreen(board, FULL), 110, 30)


def test_a_screen_says_that_its_counter_counts_no_more(seen: Seen) -> None:
    board = board_of(seen)
    board.counts_by({"counter": "hub", "over": 0, "strokes_per_wash": 1})
    counting = {"trial": "quay-1", "zones": ["A1"], "over": 0, "strokes_per_wash": 1}
    board.on_status({"probes": [{"id": "hub", "counting": counting}]})
    assert (board.zones, board.message) == (("A1",), "")
    board.on_status({"probes": [{"id": "hub", "counting": None}]})
    assert board.message.startswith("hub counts here no more. Next: q, then coatbench wash quay-1")
    assert "hub COUNTS NO MORE" in shown(WashScreen(board, FULL), 110, 30)


def test_a_wash_that_is_out_of_order_is_asked_about_before_it_counts(seen: Seen) -> None:
    board = board_of(seen)
    asked: list[object] = []

    def doubts(zones: object) -> list[str]:
        asked.append(zones)
        return ["wash-5 of A1 was not looked at in full"] if board.counts["A1"] == 5 else []

    board.doubts = doubts
    seen.press_keys(board, *"     ")
    assert (board.counts["A1"], len(asked)) == (5, 1)
    seen.press_keys(board, " ")
    assert "wash-5 of A1 was not looked at in full" in board.page
    # A foot switch that goes on pressing gives no answer.
    seen.press_keys(board, " ", " ", "enter")
    assert (board.counts["A1"], board.message) == (5, "no wash was counted")
    seen.press_keys(board, " ", "x", *"yes", "enter")
    assert board.counts["A1"] == 6
    seen.press_keys(board, " ")
    assert board.counts["A1"] == 7
