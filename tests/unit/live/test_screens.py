"""The screens at fixed sizes, without colour: what matters is there, and nothing spills over."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import product
from pathlib import Path

import pytest
from rich.cells import cell_len
from rich.console import Console

from acquire.live.bigprint import bigprint
from acquire.live.blocks import hints
from acquire.live.canvas import FULL, PLAIN
from acquire.live.checkscreen import CheckScreen
from acquire.live.runscreen import KEYS, RunScreen
from acquire.live.screen import Screen, glyphs_for
from acquire.live.watchscreen import WatchScreen
from acquire.model import Noise
from tests.unit.seen import Seen, drawn
from tests.yard import TRIAL

SIZES = [(80, 24), (120, 40), (60, 16), (40, 10), (20, 5), (200, 60), (10, 2)]


def shut_gate(seen: Seen) -> None:
    seen.yard.clock.advance(4000)
    seen.hear(seen.yard.tick())


def run_screen(seen: Seen) -> RunScreen:
    return RunScreen(seen.run_board(), FULL)


def test_at_80_by_24_a_run_shows_all_a_person_needs(seen: Seen) -> None:
    screen = run_screen(seen)
    seen.press("80.1")
    shown = "\n".join(drawn(screen))
    for wanted in (
        "run 1: gloss20, bare, with shore",
        "zone A2: Brine Shield",
        "replicate 1 of 2",
        "LAST, reading 5, GU at 20°",
        "accepted: A1 replicate 1",
        "zone A1: mean 80.10 GU of 1",
        "1 of 4 taken, 3 left",
        "shore  connected  check valid for 59 min",
        "deck   NOT THERE  check needed: deck has not been checked",
        "+ shore: 80.1 GU at 20° accepted",
        "s skip  b back  g zone  v void last  c check  f finish  q leave  ? help",
    ):
        assert wanted in shown
    for part in bigprint("80.1", 38) or []:
        assert part in shown
    for part in bigprint("A2", 38) or []:
        assert part in shown


def test_at_80_by_24_a_shut_gate_is_told_with_figure_and_next_step(seen: Seen) -> None:
    screen = run_screen(seen)
    seen.press("80.1")
    shut_gate(seen)
    seen.press("80.2")
    shown = "\n".join(drawn(screen))
    assert "BLOCKED, no reading counts now: the check of shore is older than 1:00:00" in shown
    assert "Next: coatbench check shore (or press c here)" in shown
    assert "NOT ACCEPTED" in shown


def test_a_press_that_came_as_noise_takes_the_place_of_the_reading_before_it(seen: Seen) -> None:
    board = seen.run_board()
    seen.hear(seen.yard.press("shore", "80.1"))
    noise = Noise(seen.yard.clock.now(), b"R,00\xff", 40, 45, "no line of the profile")
    seen.hear(seen.yard.take_in("shore", noise))
    shown = "\n".join(drawn(RunScreen(board, FULL)))
    assert "NOT ACCEPTED: noise, press again" in shown
    assert "accepted: A1 replicate 1 " not in shown
    seen.hear(seen.yard.press("shore", "80.2"))
    shown = "\n".join(drawn(RunScreen(board, FULL)))
    assert "NOT ACCEPTED" not in shown
    assert "accepted: A2 replicate 1 " in shown


def test_a_check_that_failed_is_told_whole_on_the_run_screen(seen: Seen) -> None:
    seen.yard.check("shore", tile="95.6")
    shown = " ".join(" ".join(drawn(run_screen(seen))).split())
    assert "T1 at 20° read 95.60 GU, +2.40 from its certified 93.2 GU; limit 1.0 GU" in shown
    assert "Next: clean piece and meter, re-adjust shore" in shown


def test_while_a_check_is_under_way_the_large_next_is_its_piece_and_not_the_zone(
    seen: Seen,
) -> None:
    screen = run_screen(seen)
    seen.press("80.1")
    seen.press_keys(screen.board, "c")
    seen.press("93.2")
    shown = "\n".join(drawn(screen))
    assert "NEXT, a piece of the check" in shown
    assert "presses left here: 1" in shown
    for part in bigprint("T1", 38) or ["no large print"]:
        assert part in shown
    assert "zone A2: Brine Shield" not in shown
    seen.press("93.2", "0.0", "0.0")
    assert "zone A2: Brine Shield" in "\n".join(drawn(screen))


def test_when_all_is_taken_the_screen_says_that_enter_finishes(seen: Seen) -> None:
    screen = run_screen(seen)
    seen.press("80.1", "81.2", "80.4", "81.4")
    shown = "\n".join(drawn(screen))
    assert "all readings are taken" in shown
    assert "Enter finishes the run" in shown
    assert "4 of 4 taken, 0 left" in shown


def test_a_prompt_takes_the_place_of_the_keys(seen: Seen) -> None:
    screen = run_screen(seen)
    seen.press("80.1")
    seen.press_keys(screen.board, "v", "slip")
    lines = drawn(screen)
    assert lines[22].rstrip() == ("why is reading 5 (80.1 GU at 20°, A1 replicate 1) void: slip_")
    assert lines[23].rstrip() == "Enter does it, Esc leaves it"


def test_a_long_word_to_the_person_wraps_and_never_loses_its_next_step(seen: Seen) -> None:
    screen = run_screen(seen)
    seen.press("80.1")
    refused = "shore cannot be asked for a reading: got a device that knows no command for it"
    screen.board.say(f"{refused}. Next: press the button of shore")
    lines = drawn(screen)
    assert lines[21].rstrip() == refused + "."
    assert lines[22].rstrip() == "Next: press the button of shore"
    assert lines[23].startswith("s skip")
    screen.board.say(f"{refused * 4}. Next: press the button of shore")
    lines = drawn(screen)
    assert lines[20].startswith("shore cannot be asked")
    assert lines[21].rstrip().endswith("…")
    assert lines[22].rstrip() == "Next: press the button of shore"
    for width, height in SIZES:
        assert len(drawn(screen, width, height)) == height


def test_an_unchecked_trial_says_so_on_every_screen(tmp_path: Path) -> None:
    seen = Seen(tmp_path)
    seen.yard.plug("shore")
    seen.yard.begin(text=TRIAL.replace("[trial]", "[trial]\nunchecked = true"))
    screens = [run_screen(seen), WatchScreen(seen.watch_board(), FULL)]
    seen.press("80.1")
    for screen in screens:
        assert "UNCHECKED TRIAL" in "\n".join(drawn(screen))
    assert "bare, UNCHECKED" in "\n".join(drawn(screens[0]))
    seen.close()


def test_the_check_screen_names_the_piece_in_large_and_how_often_to_press(tmp_path: Path) -> None:
    seen = Seen(tmp_path)
    seen.yard.plug("shore")
    seen.yard.act(lambda at: seen.yard.acts.checks.begin("shore", at))
    screen = CheckScreen(seen.check_board(), FULL)
    seen.press("93.2")
    shown = "\n".join(drawn(screen))
    for wanted in (
        "check 1 of shore, serial SH-0417",
        "place shore on T1 and press once",
        "T1  now: 1 reading to go    93.2",
        "Z0  later: 2 readings",
        "accepted: piece T1",
        "v void last  a abandon  q leave  ? help",
        *(bigprint("T1", 38) or ["no large print"]),
    ):
        assert wanted in shown
    seen.hear(seen.yard.unplug("shore"))
    assert "IS NOT CONNECTED" in "\n".join(drawn(screen))
    seen.close()


SHARED = "another program has /dev/shore open as well: got reader (process 7). Next: end it"


@pytest.mark.parametrize("width", [80, 40])
def test_every_screen_says_that_another_program_reads_on_the_meters_port(
    seen: Seen, width: int
) -> None:
    for board, screen in (
        (run := seen.run_board(), RunScreen(run, FULL)),
        (watch := seen.watch_board(), WatchScreen(watch, FULL)),
        (check := seen.check_board(), CheckScreen(check, FULL)),
    ):
        assert "SHARED" not in "\n".join(drawn(screen))
        assert board.status is not None
        shore = next(own for own in board.status["instruments"] if own["id"] == "shore")
        shore["shared"] = SHARED
        shown = " ".join(" ".join(drawn(screen, width, 24)).split())
        assert f"SHARED: {SHARED}" in shown
        assert any(f"SHARED: {SHARED}" in text for text in board.state_lines().values())


def test_values_of_three_angles_go_below_their_piece_where_a_line_is_too_short(
    tmp_path: Path,
) -> None:
    seen = Seen(tmp_path)
    seen.yard.plug("shore")
    seen.yard.act(lambda at: seen.yard.acts.checks.begin("shore", at))
    board = seen.check_board()
    board.channels = ("20", "60", "85")
    sent = [("20", "93.2"), ("60", "95.4"), ("85", "97.6")]
    for number, (angle, value) in enumerate(pair for pair in sent for _ in range(3)):
        board.count(number, "T1", angle, value)
    screen = CheckScreen(board, FULL)
    shown = "\n".join(drawn(screen, 60, 40))
    assert "85°: 97.6  97.6  97.6" in shown
    # Where there is no room for that, every piece has its line all the same.
    low = "\n".join(drawn(screen, 60, 14))
    assert all(piece in low for piece in ("T1  read", "Z0  later: 2 readings"))
    seen.close()


def test_a_status_from_before_the_check_calls_no_piece_read(tmp_path: Path) -> None:
    seen = Seen(tmp_path)
    seen.yard.plug("shore")
    before = seen.status()
    seen.yard.act(lambda at: seen.yard.acts.checks.begin("shore", at))
    board = seen.check_board()
    board.status = before
    shown = "\n".join(drawn(CheckScreen(board, FULL)))
    assert "all pieces are read" not in shown
    assert "waiting for the daemon's word" in shown
    seen.close()


def test_the_watch_shows_run_instruments_and_what_was_interrupted(seen: Seen) -> None:
    screen = WatchScreen(seen.watch_board(), FULL)
    shown = "\n".join(drawn(screen))
    assert "run 1: gelcoat, gloss20, bare" in shown
    assert "next: zone A1 (untreated)" in shown
    seen.yard.restart()
    seen.hear([])
    shown = "\n".join(drawn(screen))
    assert "run 1 was interrupted" in shown
    assert "coatbench run --resume" in shown


def screens_in_every_state(seen: Seen) -> Iterator[Screen]:
    run, watch = seen.run_board(), seen.watch_board()
    pair = [RunScreen(run, FULL), WatchScreen(watch, PLAIN)]
    yield from pair
    seen.press("80.1")
    yield from pair
    shut_gate(seen)
    seen.press("80.2")
    yield from pair
    run.press("v")
    yield from pair
    run.press("escape")
    run.press("?")
    yield from pair
    run.press("x")
    seen.yard.act(lambda at: seen.yard.acts.checks.begin("shore", at))
    yield from pair
    yield CheckScreen(seen.check_board(2), FULL)
    seen.hear(seen.yard.unplug("shore"))
    yield from pair


def test_every_screen_fills_every_size_exactly(seen: Seen) -> None:
    for screen in screens_in_every_state(seen):
        for width, height in SIZES:
            lines = drawn(screen, width, height)
            # The last line has no end of line of its own, or an alternate screen would scroll.
            assert len(lines) == height
            assert {cell_len(line) for line in lines} <= {width}


def test_a_screen_before_the_first_status_says_that_it_waits(seen: Seen) -> None:
    board = seen.run_board()
    board.run = board.status = None
    assert "waiting" in "\n".join(drawn(RunScreen(board, FULL)))


def test_names_of_other_scripts_keep_the_columns(seen: Seen, tmp_path: Path) -> None:
    text = TRIAL.replace('"Brine Shield"', '"防水ワックス防水ワックス防水ワックス防水ワックス"')
    folder = tmp_path / "other"
    folder.mkdir()
    other = Seen(folder)
    other.yard.plug("shore")
    other.yard.check("shore")
    other.yard.begin(text=text)
    screen = run_screen(other)
    other.hear(other.yard.press("shore", "80.1"))
    assert {cell_len(line) for line in drawn(screen)} == {80}
    other.close()


def test_a_text_of_the_plan_cannot_reach_the_terminal_as_a_command(tmp_path: Path) -> None:
    seen = Seen(tmp_path)
    seen.yard.plug("shore")
    seen.yard.check("shore")
    seen.yard.begin()
    screen = run_screen(seen)
    status = seen.status()
    assert isinstance(status["run"], dict)
    status["run"]["title"] = status["run"]["next"]["treatment"] = "\x1b[31mred\a"
    screen.board.status = status
    screen.board.run = status["run"]
    assert "\x1b" not in "".join(drawn(screen))
    assert "\a" not in "".join(drawn(screen))
    seen.close()


@pytest.mark.parametrize(("environment", "has_style"), [({"NO_COLOR": "1"}, False), ({}, True)])
def test_colour_only_repeats_what_the_words_say(
    seen: Seen, environment: dict[str, str], has_style: bool
) -> None:
    screen = run_screen(seen)
    seen.press("80.1")
    shut_gate(seen)
    environment["TERM"] = "xterm-256color"
    console = Console(width=80, height=24, force_terminal=True, _environ=environment)
    with console.capture() as captured:
        console.print(screen)
    # 30 to 37 set a colour (ECMA-48, 8.3.117); bold and faint may stay.
    assert bool(re.search(r"\x1b\[[0-9;]*3[0-7]m", captured.get())) is has_style


def test_signs_are_letters_where_the_encoding_has_no_blocks(seen: Seen) -> None:
    assert glyphs_for("utf-8") is FULL
    assert glyphs_for("UTF8") is FULL
    assert glyphs_for("iso-8859-1") is PLAIN
    screen = RunScreen(seen.run_board(), PLAIN)
    seen.press("80.1")
    text = "\n".join(drawn(screen)).replace("°", "").replace("…", "")
    assert text.isascii()


@pytest.mark.parametrize("text", ["0123456789.", "ABCDEFGHIJKLM", "NOPQRSTUVWXYZ", "-_+/ ,"])
def test_large_print_is_five_lines_of_blocks(text: str) -> None:
    lines = bigprint(text, 200)
    assert lines is not None
    assert len(lines) == 5
    assert set("".join(lines)) <= {"█", " "}


def test_every_large_character_differs_from_every_other() -> None:
    signs = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-+_/.,"
    shapes = {sign: bigprint(sign, 20) for sign in signs}
    alike = {(a, b) for a, b in product(signs, signs) if a < b and shapes[a] == shapes[b]}
    assert not alike


def test_what_has_no_shape_or_no_room_is_not_drawn() -> None:
    assert bigprint("ä", 80) is None
    assert bigprint("", 80) is None
    assert bigprint("82.4", 10) is None
    narrow, broad = bigprint("82.4", 20), bigprint("82.4", 38)
    assert narrow is not None
    assert broad is not None
    assert max(map(len, narrow)) < max(map(len, broad))


def test_where_there_is_plenty_of_room_large_print_is_twice_as_tall(seen: Seen) -> None:
    screen = run_screen(seen)
    seen.press("80.1")
    shown = "\n".join(drawn(screen, 120, 40))
    tall = bigprint("80.1", 58, tall=2)
    assert tall is not None
    assert len(tall) == 10
    for part in tall:
        assert part in shown
    # Shrunk to what fits, and never broader than the room.
    assert max(map(len, bigprint("-104.75", 40, tall=2) or ["none" * 20])) <= 40


@pytest.mark.parametrize("width", [40, 60, 80, 200])
def test_at_every_width_the_head_and_the_keys_of_a_run_are_whole(seen: Seen, width: int) -> None:
    screen = run_screen(seen)
    seen.press("80.1")
    shown = " ".join(part.strip() for part in drawn(screen, width, 24))
    for wanted in ("run 1: gloss20, bare, with shore", "f finish", "q leave", "? help"):
        assert wanted in shown


@pytest.mark.parametrize("width", [40, 60, 80, 200])
def test_at_every_width_target_and_last_reading_are_told_whole(seen: Seen, width: int) -> None:
    screen = run_screen(seen)
    seen.press("80.1")
    rows = [text for text in drawn(screen, width, 40) if FULL.upright in text]
    left, right = (
        " ".join(" ".join(text.split(FULL.upright)[side] for text in rows).split())
        for side in (0, 1)
    )
    assert "NEXT, bare, at 20°" in left
    assert "zone A2: Brine Shield" in left
    assert "LAST, reading 5, GU at 20°" in right
    assert "accepted: A1 replicate 1" in right


def test_where_there_is_no_room_for_all_keys_the_help_stays() -> None:
    lines = [text.plain for text in hints(KEYS, 24, 2)]
    assert lines == ["s skip  b back  g zone", "v void last  ? help"]
    assert all(len(text) <= 24 for text in lines)


def test_the_story_tells_what_is_longer_than_a_line_whole(seen: Seen) -> None:
    screen = run_screen(seen)
    seen.press("80.1", "80.2")
    shown = drawn(screen, 60, 40)
    at = next(i for i, text in enumerate(shown) if "80.1 GU at 20° accepted" in text)
    assert shown[at + 1].strip() == "bare (reading 5)"
