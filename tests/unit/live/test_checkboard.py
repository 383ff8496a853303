"""The board of a check, and the verdict that is read from the store when it has ended."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC
from pathlib import Path

import pytest

from acquire.cli.status import status_lines
from acquire.live.board import Ending
from acquire.live.checkboard import Step
from acquire.live.verdict import verdict
from acquire.model import Flag
from acquire.store import StoreReader
from acquire.store.check_rows import CheckJudgementRow, PieceJudgementRow
from tests.unit.seen import Seen


@pytest.fixture
def seen(tmp_path: Path) -> Iterator[Seen]:
    seen = Seen(tmp_path)
    seen.yard.plug("shore")
    seen.yard.act(lambda at: seen.yard.acts.checks.begin("shore", at))
    yield seen
    seen.close()


def verdict_of(seen: Seen, check_id: int = 1) -> tuple[bool, list[str]]:
    with StoreReader(seen.yard.bench.store) as store:
        return verdict(store, check_id, seen.yard.clock.now().utc_ns, UTC)


def test_the_pieces_come_from_the_policy_that_was_stored_with_the_check(seen: Seen) -> None:
    board = seen.check_board()
    assert board.steps == (Step("T1", 2), Step("Z0", 2))
    assert (board.meter, board.channels, board.piece) == ("shore", ("20",), "T1")
    assert board.news() == ["place shore on T1 and press 2 times"]


def test_a_meter_that_can_be_asked_is_offered_to_be_with_its_key_or_command(seen: Seen) -> None:
    board = seen.check_board()
    seen.takers.add("shore")
    seen.hear([])
    assert board.step_words() == "place shore on T1 and press, or ask it (t), 2 times"
    assert board.state_lines()["step"] == (
        "place shore on T1 and press, or ask it (coatbench take shore), 2 times"
    )
    seen.hear(seen.yard.tick())
    assert "ask it (coatbench take shore)" in "\n".join(status_lines(board.status or {}))


def test_readings_fill_the_pieces_one_after_the_other(seen: Seen) -> None:
    board = seen.check_board()
    seen.press("93.2", "93.1", "0.0")
    assert [board.values(s) for s in board.steps] == ["93.2  93.1", "0.0"]
    assert [board.left(s) for s in board.steps] == [0, 1]
    assert board.piece == "Z0"
    assert board.ending is None


def test_a_check_that_is_joined_shows_what_was_read_before(seen: Seen) -> None:
    seen.hear(seen.yard.press("shore", "93.2"))
    board = seen.check_board()
    assert board.values(board.steps[0]) == "93.2"
    seen.press("93.1")
    assert board.values(board.steps[0]) == "93.2  93.1"


def test_a_slipped_press_is_voided_by_a_key_and_its_piece_read_anew(seen: Seen) -> None:
    board = seen.check_board()
    seen.press("93.2", "61.0")
    board.news()
    seen.press_keys(board, "v")
    assert board.prompt is not None
    assert board.prompt.question == "why is reading 2 (61.0 GU at 20°, piece T1) void"
    seen.press_keys(board, "slipped", "enter")
    assert board.message == "reading 2 (61.0 GU at 20°, piece T1) is void; T1 is read anew in full"
    assert (board.values(board.steps[0]), board.left(board.steps[0])) == ("", 2)
    assert board.news() == ["place shore on T1 again and press 2 times"]
    late = seen.check_board()
    assert (late.values(late.steps[0]), late.left(late.steps[0])) == ("", 2)
    seen.press("93.2", "93.2", "0.0", "0.0")
    passed, lines = verdict_of(seen)
    assert passed
    assert "taken out by a person: reading 2 (slipped)" in lines


def test_a_second_void_of_a_piece_is_refused_with_the_next_step(seen: Seen) -> None:
    board = seen.check_board()
    seen.press("61.0")
    seen.press_keys(board, "v", "slipped", "enter")
    seen.press("61.0")
    seen.press_keys(board, "v", "slipped", "enter")
    assert "one void of a piece in a check" in board.message
    assert "--abandon" in board.message


def test_with_nothing_read_there_is_nothing_to_void(seen: Seen) -> None:
    board = seen.check_board()
    seen.press_keys(board, "v")
    assert board.prompt is None
    assert "nothing to void" in board.message


def test_a_flagged_reading_is_shown_and_not_counted(seen: Seen) -> None:
    board = seen.check_board()
    seen.hear(seen.yard.press("shore", "93.2", flags=frozenset({Flag.REPEAT})))
    assert board.left(board.steps[0]) == 2
    assert board.last is not None
    assert board.last["role"] == "loose"


def test_a_pass_ends_the_board_and_its_verdict_is_read_piece_by_piece(seen: Seen) -> None:
    board = seen.check_board()
    seen.press("93.2", "93.1", "0.0", "0.0")
    assert board.ending == Ending("ended")
    passed, lines = verdict_of(seen)
    assert passed
    assert lines[0] == "check 1 of shore: PASS"
    # Deviation and uncertainty as the judge has them (tests/unit/test_judge.py).
    assert lines[2:5] == [
        "piece   at   read  certified  deviation  uncertainty  limit  outcome",
        "T1     20°  93.15       93.2      -0.05         0.32    1.0  inside",
        "Z0     20°   0.00        0.0       0.00         0.07    0.3  inside",
    ]
    assert lines[-2:] == [
        "valid for 1 h 00 min, until 09:00:04",
        "next: coatbench run FILE STAGE --with shore",
    ]


def test_after_a_pass_an_open_run_is_what_is_gone_on_with_and_after_a_failure_it_is_not(
    seen: Seen,
) -> None:
    seen.check_board()
    seen.press("93.2", "93.1", "0.0", "0.0")
    now_utc_ns = seen.yard.clock.now().utc_ns
    with StoreReader(seen.yard.bench.store) as store:
        assert verdict(store, 1, now_utc_ns, has_run=True)[1][-1] == "next: coatbench run --resume"
    seen.yard.check("shore", tile="95.6")
    with StoreReader(seen.yard.bench.store) as store:
        passed, lines = verdict(store, 2, now_utc_ns, has_run=True)
    assert not passed
    assert "re-adjust shore" in lines[-1]


def test_a_failed_check_names_piece_figure_and_limit_and_the_next_step(seen: Seen) -> None:
    seen.check_board()
    seen.press("95.6", "95.6", "0.0", "0.0")
    passed, lines = verdict_of(seen)
    assert not passed
    assert lines[0] == "check 1 of shore: FAIL"
    assert "OUTSIDE" in lines[3]
    assert "inside" in lines[4]
    assert any("T1 at 20° read 95.60 GU, +2.40" in line for line in lines)
    assert "re-adjust shore" in lines[-1]


def test_abandoning_wants_a_typed_yes_and_is_no_pass(seen: Seen) -> None:
    board = seen.check_board()
    seen.press("93.2")
    seen.press_keys(board, "a")
    assert board.prompt is not None
    assert board.prompt.question == "abandon the check: type yes", "there is no pass to end"
    seen.press_keys(board, "no", "enter")
    assert board.ending is None
    assert board.message == "the check goes on"
    seen.press_keys(board, "a", "yes", "enter")
    assert board.ending == Ending("ended")
    passed, lines = verdict_of(seen)
    assert not passed
    assert lines[0] == "check 1 of shore: BROKEN OFF"
    assert lines[1] == "by the person at the bench"


def test_abandoning_a_check_that_was_to_renew_a_pass_says_that_this_ends_it(seen: Seen) -> None:
    for value in ("93.2", "93.2", "0.0", "0.0"):
        seen.press(value)
    seen.yard.act(lambda at: seen.yard.acts.checks.begin("shore", at))
    board = seen.check_board(2)
    seen.press_keys(board, "a")
    assert board.prompt is not None
    assert board.prompt.question == "abandon the check: type yes"
    seen.press_keys(board, "no", "enter")
    seen.press("93.2")
    seen.press_keys(board, "a")
    assert board.prompt is not None
    assert "this ends the pass it was to renew" in board.prompt.question


def test_abandoning_after_a_press_far_outside_says_first_what_comes_of_it(seen: Seen) -> None:
    board = seen.check_board()
    seen.press("61.0")
    seen.press_keys(board, "a")
    told = "\n".join(board.page)
    assert "will be judged by what was read: T1 at 20° read 61.00 GU at its one press" in told
    assert "all readings since its last pass that no check has closed become suspect" in told
    assert "taken out first (v on the screen" in told
    seen.press_keys(board, "y")
    assert (board.page, board.ending) == ((), None)
    seen.press_keys(board, "no", "enter", "v", "slipped", "enter")
    seen.press("93.2")
    seen.press_keys(board, "a")
    assert board.page == ()


def test_a_check_ended_elsewhere_ends_the_board_even_if_its_row_was_missed(seen: Seen) -> None:
    board = seen.check_board()
    seen.yard.act(lambda at: seen.yard.acts.checks.abandon("shore", at))
    seen.hear([])
    assert board.ending == Ending("ended")


def test_a_piece_that_could_not_be_judged_shows_no_figures(seen: Seen) -> None:
    at_ns = seen.yard.clock.now().utc_ns
    message = "T1 at 20° has no certificate; enter one in bench.toml"
    seen.yard.store(
        [
            CheckJudgementRow(1, at_ns, 1, "undecided", message, "see to the piece", None),
            PieceJudgementRow(
                1, 1, "T1", "20", "undecided", 2, "0", "0", "0", "0", "0", "1.0", "0.4",
                "gloss_unit", None, message,
            ),
        ]
    )  # fmt: skip
    passed, lines = verdict_of(seen)
    assert not passed
    assert lines[3].split() == ["T1", "20°", "-", "-", "-", "-", "1.0", "NOT", "DECIDED"]
    assert message in lines


def test_an_unplugged_meter_is_told(seen: Seen) -> None:
    board = seen.check_board()
    board.news()
    seen.hear(seen.yard.unplug("shore"))
    assert any("shore is not connected" in text for text in board.state_lines().values())


@pytest.mark.parametrize("readings", [("93.2", "93.1"), ("95.6", "95.6")])
def test_a_check_that_broke_off_behind_a_whole_piece_says_why(
    seen: Seen, readings: tuple[str, str]
) -> None:
    seen.check_board()
    seen.press(*readings)
    seen.hear(seen.yard.unplug("shore"))
    _, lines = verdict_of(seen)
    assert any("the instrument was unplugged" in line for line in lines), "\n".join(lines)


def test_a_check_that_an_unplug_broke_off_says_to_plug_in_before_the_next_one(seen: Seen) -> None:
    seen.check_board()
    seen.press("93.2")
    seen.hear(seen.yard.unplug("shore"))
    passed, lines = verdict_of(seen)
    assert not passed
    assert lines[0] == "check 1 of shore: BROKEN OFF"
    assert lines[-1] == "next: plug shore in and switch it on, then coatbench check shore"


def test_a_value_far_from_the_certificate_and_near_no_other_piece_counts_with_a_word(
    seen: Seen,
) -> None:
    board = seen.check_board()
    seen.press("93.0")
    assert board.message == ""
    seen.press("61.0")
    assert board.message == (
        "61.0 GU at 20° is far from 93.2 GU, the certificate of T1. "
        "Next: if the press slipped, v (or coatbench void --last) voids it"
    )
    assert board.values(board.steps[0]) == "93.0  61.0"


def test_a_void_without_a_reason_asks_again(seen: Seen) -> None:
    board = seen.check_board()
    seen.press("61.0")
    seen.press_keys(board, "v", "enter")
    assert board.prompt is not None
    seen.press_keys(board, "slipped", "enter")
    assert board.message.startswith("reading 1 ")
