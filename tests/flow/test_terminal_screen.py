"""The screens on a real terminal: driven by keys alone, and the terminal is left as it was."""

from __future__ import annotations

import signal
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.flow.served import Served

if sys.platform == "win32":
    pytest.skip("needs pseudo-terminals", allow_module_level=True)

from tests.flow.terminal import OnTerminal, make_ready

CTRL_C = "\x03"


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """One daemon for all tests that do it no harm."""
    with Served(tmp_path_factory.mktemp("bench")) as served:
        yield served


@pytest.fixture
def served(bench: Served) -> Served:
    make_ready(bench, checked=True)
    return bench


def run_screen(served: Served, *options: str, columns: int = 80, **env: str) -> OnTerminal:
    trial = str(served.folder / "trial.toml")
    line = ["run", trial, "bare", "--with", "meter-0", *options]
    return OnTerminal(served.bench_file, *line, columns=columns, **env)


def test_a_whole_run_by_keys_and_presses(served: Served) -> None:
    with run_screen(served) as screen:
        screen.expect("zone A1: untreated")
        served.wire.press("80.1")
        screen.expect("accepted: A1 replicate 1")
        screen.expect("zone A2: Brine Shield")
        screen.press_keys("b")
        screen.expect("A2 replicate 1 is the first open place; none is before it")
        screen.press_keys("gA2\r")
        screen.expect("next: A2 replicate 1")
        served.wire.press("81.1")
        screen.expect("accepted: A2 replicate 1")
        screen.press_keys("vdust\r")
        screen.expect("VOID: dust")
        screen.expect("1 of 4 taken, 3 left")
        screen.press_keys("?")
        screen.expect("KEYS OF A RUN")
        screen.press_keys("x")
        for taken, value in enumerate(("81.2", "80.3", "81.4"), 2):
            served.wire.press(value)
            screen.expect(f"{taken} of 4 taken")
        screen.expect("Enter finishes the run")
        screen.press_keys("\r")
        assert screen.end() == 0
        assert "is finished; every place is filled" in screen.rest
        # One stroke for each of the five accepted readings of the run, and none without a cause.
        assert screen.raw.count("\a") == 5


def test_two_bells_and_words_for_what_is_not_accepted_and_none_when_quiet(served: Served) -> None:
    with run_screen(served) as screen:
        screen.expect("zone A1: untreated")
        served.wire.send(b"garbage\r\n")
        screen.expect("noise on the line, no reading")
        while screen.raw.count("\a") < 2:
            screen.expect("s skip")
        screen.press_keys("q")
        assert screen.end() == 0
    with OnTerminal(served.bench_file, "run", "--resume", "--quiet") as screen:
        screen.expect("zone A1: untreated")
        served.wire.press("80.1")
        screen.expect("accepted: A1 replicate 1")
        screen.press_keys("q")
        assert screen.end() == 0
        assert "\a" not in screen.raw


def test_leaving_keeps_the_run_open_and_resume_shows_what_was_taken(served: Served) -> None:
    with run_screen(served) as screen:
        screen.expect("zone A1: untreated")
        served.wire.press("80.1")
        screen.expect("1 of 4 taken")
        screen.press_keys("q")
        assert screen.end() == 0
        assert "stays open" in screen.rest
    with OnTerminal(served.bench_file, "run", "--resume") as screen:
        shown = screen.expect("1 of 4 taken")
        assert "accepted: A1 replicate 1" in shown
        screen.press_keys("f")
        screen.expect("3 readings still to take; why finish now")
        screen.press_keys("rain\r")
        assert screen.end() == 0
        assert "3 places are still open" in screen.rest


@pytest.mark.parametrize("command", ["run", "watch", "check"])
def test_ctrl_c_leaves_a_screen_cleanly(served: Served, command: str) -> None:
    opened = {
        "run": lambda: run_screen(served),
        "watch": lambda: OnTerminal(served.bench_file, "watch"),
        "check": lambda: OnTerminal(served.bench_file, "check", "meter-0"),
    }[command]()
    with opened as screen:
        screen.expect("? help")
        screen.press_keys(CTRL_C)
        assert screen.end() == (0 if command == "watch" else 130)
        assert "Traceback" not in screen.raw


def test_a_screen_that_is_ended_from_outside_gives_the_terminal_back(served: Served) -> None:
    with run_screen(served) as screen:
        screen.expect("? help")
        screen.process.send_signal(signal.SIGTERM)
        assert screen.end() == 128 + signal.SIGTERM


def test_a_daemon_that_dies_under_a_screen_is_told_after_it_with_status_3(
    tmp_path: Path,
) -> None:
    with Served(tmp_path) as own:
        make_ready(own, checked=True)
        with run_screen(own) as screen:
            screen.expect("? help")
            own.kill()
            assert screen.end() == 3
            after = screen.raw.rpartition("\x1b[?1049l")[2]
            assert "coatbench: the daemon" in after
            assert "  next" in after
            assert "Traceback" not in screen.raw


def test_a_screen_follows_the_size_of_its_terminal(served: Served) -> None:
    with run_screen(served) as screen:
        screen.expect("─" * 80)
        screen.resize(40, 120)
        screen.expect("─" * 120)
        screen.resize(10, 40)
        screen.expect("zone A1: untreat")
        screen.press_keys("q")
        assert screen.end() == 0


def test_no_colour_where_none_is_wanted_and_the_words_are_the_same(served: Served) -> None:
    with run_screen(served, NO_COLOR="1") as screen:
        screen.expect("zone A1: untreated")
        served.wire.press("80.1")
        screen.expect("accepted: A1 replicate 1")
        screen.press_keys("q")
        screen.end()
        assert "\x1b[1;32m" not in screen.raw
        assert "\x1b[32m" not in screen.raw


def test_a_terminal_that_can_do_nothing_gets_plain_lines(served: Served) -> None:
    with run_screen(served, TERM="dumb") as screen:
        screen.expect("next: zone A1 (untreated)")
        served.wire.press("80.1")
        screen.expect("accepted: A1 replicate 1")
        screen.press_keys(CTRL_C)
        assert screen.end() == 130
        assert "\x1b" not in screen.raw


def test_plain_lines_can_be_asked_for_on_a_terminal(served: Served) -> None:
    with run_screen(served, "--plain") as screen:
        screen.expect("next: zone A1 (untreated)")
        screen.press_keys(CTRL_C)
        assert screen.end() == 130
        assert "\x1b[?1049h" not in screen.raw


def test_a_blocked_run_is_checked_from_its_own_screen(served: Served) -> None:
    with run_screen(served) as screen:
        screen.expect("zone A1: untreated")
        served.wire.unplug()
        screen.expect("BLOCKED, no reading counts now")
        served.wire.plug()
        screen.expect("connected as")
        screen.press_keys("c")
        screen.expect("CHECK UNDER WAY: piece 1 of 3: place meter-0 on T1 and press 3 times")
        with served.client() as client, client.watch() as items:
            for value in ("91.4",) * 3 + ("52.6",) * 3 + ("0.0",) * 3:
                role = ""
                while role != "check":
                    served.wire.press(value)
                    role = served.next_reading(items)["role"]
        screen.expect("check valid for")
        served.wire.press("80.1")
        screen.expect("accepted: A1 replicate 1")


def test_a_check_on_the_screen_ends_with_its_verdict_in_the_scrollback(served: Served) -> None:
    with OnTerminal(served.bench_file, "check", "meter-0") as screen:
        screen.expect("place meter-0 on T1 and press 3 times")
        for value in ("91.4",) * 3 + ("52.6",) * 3 + ("0.0",) * 3:
            served.wire.press(value)
            screen.expect("accepted: piece")
        assert screen.end() == 0
        after = screen.raw.rpartition("\x1b[?1049l")[2]
        assert " of meter-0: PASS" in after
        assert "next: coatbench run" in after


def test_watch_shows_the_bench_and_leaves_by_q(served: Served) -> None:
    with OnTerminal(served.bench_file, "watch") as screen:
        screen.expect("check valid for")
        served.wire.press("80.1")
        screen.expect("NOT ACCEPTED")
        screen.press_keys("q")
        assert screen.end() == 0
