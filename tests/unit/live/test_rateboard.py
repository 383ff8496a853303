"""The screens of rating: one digit a step, later, again, and after a zone's readings."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from acquire.live.canvas import FULL
from acquire.live.checkpointboard import CheckpointBoard, CheckpointScreen
from acquire.live.places import Places
from acquire.live.rateboard import RateBoard, RateScreen
from acquire.live.ratingqueue import RatingQueue
from acquire.model import arrange
from acquire.settings import parse_plan
from acquire.trial.ratings import things
from tests.unit.seen import Seen
from tests.unit.worked_yard import PLAN, shown, story

TRIAL = parse_plan(PLAN, "trial.toml")
LONG = PLAN.replace(
    'steps = ["lies flat", "flat drops", "round drops"]',
    f"steps = {[f'water {n}' for n in range(1, 13)]}",
)


@pytest.fixture
def seen(tmp_path: Path) -> Iterator[Seen]:
    found = Seen(tmp_path)
    found.yard.act(lambda at: found.yard.acts.trials.keep(TRIAL, "", at))
    yield found
    found.close()


def board_of(
    seen: Seen, stage: str | None = "applied", rater: str = "Ines", text: str = PLAN
) -> RateBoard:
    plan = parse_plan(text, "t")
    rows = seen.yard.shelf.worked.ratings("quay-1")
    queue = RatingQueue(plan, rater, things(plan, stage), rows)
    board = RateBoard(story(seen), queue=queue)
    seen.boards.append(board)
    return board


def stored(seen: Seen) -> list[tuple[str, str, int]]:
    return [
        (r.zone or r.treatment, r.rater, r.step) for r in seen.yard.shelf.worked.ratings("quay-1")
    ]


def test_one_digit_rates_a_zone_and_the_next_one_stands_there(seen: Seen) -> None:
    board = board_of(seen)
    assert "RATE zone A1: How water behaves" in shown(RateScreen(board, FULL), 80, 24)
    seen.press_keys(board, "3")
    text = shown(RateScreen(board, FULL), 80, 24)
    assert "RATE zone A2" in text
    assert "1  lies flat  worst" in text
    assert "1-3 step" in text
    assert "1 of 3 rated" in text
    seen.press_keys(board, "1", "2", "enter")
    assert stored(seen) == [("A1", "Ines", 3), ("A2", "Ines", 1), ("A3", "Ines", 2)]
    assert board.ending is not None


def test_no_screen_of_rating_says_what_is_on_a_zone_or_what_others_gave(seen: Seen) -> None:
    seen.press_keys(board_of(seen), "3")
    other = board_of(seen, rater="Bea")
    seen.press_keys(board_of(seen, rater="Cid"), "2")
    text = shown(RateScreen(other, FULL), 110, 40)
    assert "Tern" not in text
    assert "tern" not in text
    assert "round drops  best" in text
    assert not any("round drops" in str(h) for h in other.story.happenings)


def test_quick_fingers_rate_one_thing_once(seen: Seen) -> None:
    board = board_of(seen)
    asks = [*board.press("3"), *board.press("2")]
    assert [a.arguments["zone"] for a in asks] == ["A1", "A2"]


def test_later_and_again(seen: Seen) -> None:
    board = board_of(seen)
    seen.press_keys(board, "l", "3", "r", "2", "slipped", "enter", "1", "1")
    assert stored(seen) == [
        ("A2", "Ines", 3), ("A2", "Ines", 2), ("A3", "Ines", 1), ("A1", "Ines", 1),
    ]  # fmt: skip


def test_a_step_that_the_scale_has_not_does_nothing(seen: Seen) -> None:
    board = board_of(seen)
    seen.press_keys(board, "0", "4", "x")
    assert stored(seen) == []


def test_of_a_long_scale_the_number_is_typed(seen: Seen) -> None:
    longer = parse_plan(LONG, "t")
    seen.yard.act(lambda at: seen.yard.acts.trials.keep(longer, "", at))
    board = board_of(seen, text=LONG)
    seen.press_keys(board, "12", "enter", "13", "enter")
    assert stored(seen) == [("A1", "Ines", 12)]
    assert "1 to 12" in board.message


def test_ratings_go_on_where_a_killed_screen_left_them(seen: Seen) -> None:
    seen.press_keys(board_of(seen), "3")
    seen.yard.restart()
    again = board_of(seen, rater="INES")
    assert again.own.current() == things(TRIAL, "applied")[1]


def test_products_are_rated_by_their_name_in_the_plan(seen: Seen) -> None:
    board = board_of(seen, stage=None)
    assert "RATE Tern wax: How it comes off" in shown(RateScreen(board, FULL), 80, 24)
    seen.press_keys(board, "2")
    assert stored(seen) == [("tern", "Ines", 2)]


# -- the checkpoint -------------------------------------------------------------------------------


def checkpoint_of(seen: Seen) -> CheckpointBoard:
    yard = seen.yard
    yard.plug("shore")
    yard.check("shore")
    yard.begin("wash-5", text=PLAN)
    measure = TRIAL.measures[0]
    board = CheckpointBoard(
        story(seen),
        run_id=1,
        meter="shore",
        places=Places(arrange(TRIAL, measure, "wash-5")),
        queue=RatingQueue(TRIAL, "Ines", things(TRIAL, "wash-5")),
        last_replicate=measure.replicates,
    )
    seen.boards.append(board)
    seen.hear([])
    return board


def test_a_zone_is_rated_right_after_its_last_reading(seen: Seen) -> None:
    board = checkpoint_of(seen)
    screen = CheckpointScreen(board, FULL)
    seen.press("80.1")
    assert "RATE" not in shown(screen, 90, 30)
    seen.press("80.2")
    assert "RATE zone A1: How water behaves" in shown(screen, 90, 30)
    seen.press_keys(board, "2")
    assert "RATE" not in shown(screen, 90, 30)
    assert stored(seen) == [("A1", "Ines", 2)]


def test_a_press_that_comes_before_the_rating_goes_where_the_run_has_it(seen: Seen) -> None:
    board = checkpoint_of(seen)
    seen.press("80.1", "80.2", "70.1")
    assert board.run is not None
    assert board.run["slots_left"] == 3
    seen.press_keys(board, "2")
    assert stored(seen) == [("A1", "Ines", 2)]


def test_what_was_put_off_is_asked_for_at_the_end_and_told_before_the_run_is_finished(
    seen: Seen,
) -> None:
    board = checkpoint_of(seen)
    seen.press("80.1", "80.2")
    seen.press_keys(board, "l")
    seen.press("70.1", "70.2", "60.1", "60.2")
    seen.press_keys(board, "1", "1")
    assert "RATE zone A1" in shown(CheckpointScreen(board, FULL), 90, 30)
    seen.press_keys(board, "enter")
    assert "1 rating not given" in board.message
    assert board.ending is None
    seen.press_keys(board, "3", "enter")
    assert board.ending is not None
    assert board.own_queue.left() == []
