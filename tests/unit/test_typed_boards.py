"""Typing at the screens of a check and a run, and without a screen."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from acquire.clock import ManualClock
from acquire.live.bell import Bell
from acquire.live.canvas import FULL
from acquire.live.checkscreen import CheckScreen
from acquire.live.runscreen import RunScreen
from acquire.live.tone import Tone
from acquire.live.watchscreen import WatchScreen
from tests.unit.hand import METER, HandSeen
from tests.unit.seen import Seen, drawn


@pytest.fixture
def seen(tmp_path: Path) -> Iterator[HandSeen]:
    seen = HandSeen(tmp_path)
    seen.yard.plug()
    yield seen
    seen.close()


@pytest.fixture
def running(seen: HandSeen) -> HandSeen:
    seen.yard.check()
    seen.yard.begin()
    return seen


def test_a_digit_opens_the_line_and_enter_gives_it(running: HandSeen) -> None:
    board = running.run_board()
    running.press_keys(board, "80.")
    assert board.prompt is not None
    assert (board.prompt.question, board.prompt.text) == ("shore shows", "80.")
    running.press_keys(board, "1", "enter")
    assert board.prompt is None
    assert board.entry.waiting == "80.1"
    running.press_keys(board, "80.1", "enter")
    assert board.entry.waiting == ""
    assert board.last is not None
    assert (board.last["value"], board.last["zone"], board.last["replicate"]) == ("80.1", "A1", 1)


def test_escape_clears_the_line_and_types_nothing(running: HandSeen) -> None:
    board = running.run_board()
    running.press_keys(board, "80.1", "escape", "s")
    assert board.entry.waiting == ""
    assert running.yard.readings("role = 'run'") == []


def test_the_second_line_does_not_show_what_was_typed_in_the_first(running: HandSeen) -> None:
    board = running.run_board()
    running.press_keys(board, "80.1", "enter", "e")
    assert board.prompt is not None
    assert board.prompt.question == "shore shows, once more"
    shown = "\n".join(drawn(RunScreen(board, FULL), 100, 40))
    assert "Typed once; look at the display again" in shown
    assert "80.1" not in shown


def test_words_are_typed_behind_a_key(running: HandSeen) -> None:
    board = running.run_board()
    running.press_keys(board, "e", "adjusted", "enter")
    assert board.message.startswith("re-adjusted: what was checked before says nothing of it now.")
    assert board.message.endswith("Next: coatbench check shore")
    sign = board.stop_sign()
    assert sign is not None
    assert sign[0].startswith("BLOCKED")


def test_an_entry_that_is_not_accepted_is_said_where_the_eyes_are(running: HandSeen) -> None:
    board = running.run_board()
    running.press_keys(board, "801", "enter")
    assert board.message == (
        "not accepted: got 801, wanted -1 to 200 (gloss unit). "
        "Next: look at the display and type it again"
    )
    assert board.message_tone is Tone.REFUSED
    running.press_keys(board, "e", "9½", "enter")
    assert board.message.startswith("nothing was typed in: got ")


@pytest.mark.parametrize("second", ["801", "80.2", "adjusted", "80.1"])
def test_whatever_follows_a_first_entry_ends_its_waiting(running: HandSeen, second: str) -> None:
    board = running.run_board()
    running.press_keys(board, "80.1", "enter", "e", second, "enter")
    assert board.entry.waiting == ""


def test_a_first_entry_that_lapses_waits_no_more(running: HandSeen) -> None:
    board = running.run_board()
    running.press_keys(board, "80.1", "enter")
    running.hear(running.yard.wait(61))
    assert board.entry.waiting == ""
    assert board.story.happenings[-1].tone is Tone.REFUSED


def test_another_first_entry_of_another_meter_is_none_of_this_board(running: HandSeen) -> None:
    board = running.run_board()
    board.entry.meter = "deck"
    running.press_keys(board, "e")
    assert board.prompt is None, "deck has a port"


def test_the_bell_rings_once_for_a_reading_and_twice_for_each_refusal(running: HandSeen) -> None:
    clock, strokes = ManualClock(), []
    bell = Bell(lambda: strokes.append("."))

    def heard(text: str) -> str:
        strokes.clear()
        bell.hear(running.hear(running.yard.type(text)), clock.now())
        clock.advance(0.2)
        bell.tick(clock.now())
        return "".join(strokes)

    running.run_board()
    assert heard("80.1") == "", "a first entry is no news yet"
    assert heard("80.1") == "."
    assert heard("801") == ".."
    assert heard("801") == "..", "an entry is no noise of a line, however fast it comes"


def test_a_check_leads_through_the_pieces_by_typing(seen: HandSeen) -> None:
    seen.yard.act(lambda at: seen.yard.acts.checks.begin(METER, at))
    board = seen.check_board()
    screen = CheckScreen(board, FULL)
    shown = "\n".join(drawn(screen, 100, 40))
    assert "check 1 of shore, serial SH-0417 (declared, not read)" in shown
    assert "put shore on T1 and type what it shows, 2 times" in shown
    seen.press_keys(board, "93.2", "enter")
    assert "Typed once" in "\n".join(drawn(screen, 100, 40))
    seen.press_keys(board, "93.2", "enter")
    shown = "\n".join(drawn(screen, 100, 40))
    assert "LAST, reading 1, GU at 20°, typed" in shown
    assert "accepted: piece T1" in shown
    assert "shore: 93.2 GU at 20°, typed, accepted: piece T1 (reading 1)" in shown
    seen.press_keys(board, *(key for v in ("93.2", "0.0", "0.0") for key in (v, "enter") * 2))
    assert board.ending is not None
    assert board.ending.how == "ended"


def test_the_key_for_typing_is_shown_where_there_is_no_port_and_only_there(
    running: HandSeen, tmp_path: Path
) -> None:
    typed = RunScreen(running.run_board(), FULL)
    assert "e type" in "\n".join(drawn(typed))
    assert "t take" not in "\n".join(drawn(typed))
    (tmp_path / "other").mkdir()
    other = Seen(tmp_path / "other")
    other.yard.plug("shore")
    other.yard.check("shore")
    other.yard.begin()
    board = other.run_board()
    other.press_keys(board, "8", "e")
    assert board.prompt is None
    assert "e type" not in "\n".join(drawn(RunScreen(board, FULL)))
    other.close()


def test_asking_it_for_a_reading_says_to_type(running: HandSeen) -> None:
    board = running.run_board()
    running.press_keys(board, "t")
    assert board.message == "shore cannot be asked for a reading. Next: type what it shows"


def test_help_says_how_to_type(running: HandSeen) -> None:
    board = running.run_board()
    running.press_keys(board, "?")
    assert any(text.startswith("e    type what the meter shows") for text in board.page)


def test_the_watch_marks_a_typed_reading(running: HandSeen) -> None:
    board = running.watch_board()
    running.hear(running.yard.type("80.1"))
    running.hear(running.yard.type("80.1"))
    assert ", typed" in "\n".join(drawn(WatchScreen(board, FULL), 100, 40))


def test_without_a_screen_the_command_is_named(seen: HandSeen) -> None:
    seen.yard.act(lambda at: seen.yard.acts.checks.begin(METER, at))
    check = seen.check_board()
    assert check.state_lines()["step"] == (
        "put shore on T1 and type what it shows, 2 times (coatbench type shore VALUE)"
    )
    seen.yard.twice("93.2", "93.2", "0.0", "0.0")
    seen.yard.begin()
    run = seen.run_board()
    assert run.state_lines()["typed"] == "type what shore shows (coatbench type shore VALUE)"
    seen.hear(seen.yard.type("80.1"))
    assert run.state_lines()["typed"].startswith("Typed once")


def test_a_screen_opened_anew_knows_that_an_entry_waits(running: HandSeen) -> None:
    from acquire.live.past import recall
    from acquire.store import StoreReader

    running.yard.type("80.1")
    board = running.run_board()
    with StoreReader(running.yard.bench.store) as store:
        recall(board, store, running.yard.clock.now().utc_ns)
    assert board.entry.waiting == "80.1"
