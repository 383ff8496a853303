"""The loops: what is heard is folded, shown and heard; keys are asked for; every end is clean."""

from __future__ import annotations

import io
from collections import deque
from collections.abc import Sequence

from rich.console import Console

from acquire.clock import ManualClock
from acquire.control.shapes import row_item
from acquire.errors import ControlError
from acquire.live.bell import Bell
from acquire.live.board import Ending
from acquire.live.canvas import FULL
from acquire.live.cautionscreen import CautionBoard, CautionScreen
from acquire.live.feed import Gone, Heard, Stood, Told
from acquire.live.loop import let_go, show, tell
from acquire.live.runscreen import RunScreen
from acquire.live.screen import Screen
from acquire.live.story import Story
from acquire.live.terminal import Terminal
from acquire.live.watchscreen import WatchScreen
from tests.unit.seen import Seen, drawn


class Script:
    """Ears and keys in one, played from a list: a string is a key, anything else is heard."""

    def __init__(self, *steps: str | Heard | type[BaseException]) -> None:
        self.steps = deque(steps)
        self.asked: list[tuple[str, dict[str, object]]] = []
        self.idle = 0

    def take(self, timeout_s: float) -> list[Heard]:
        heard: list[Heard] = []
        while self.steps and isinstance(self.steps[0], Told | Stood | Gone):
            heard.append(self.steps.popleft())  # type: ignore[arg-type]
        self.idle = 0 if heard or self.steps else self.idle + 1
        assert self.idle < 10, "the loop goes on, and nothing is left that could end it"
        return heard

    def read(self, timeout_s: float) -> str | None:
        step = self.steps[0] if self.steps else None
        if isinstance(step, str):
            self.steps.popleft()
            return step
        if self.steps and isinstance(self.steps[0], type):
            raise self.steps.popleft()  # type: ignore[misc]
        return None

    def ask(self, call: str, **arguments: object) -> None:
        self.asked.append((call, arguments))


class Screening:
    """A screen on a terminal of 80 by 24 that keeps all that is written to it."""

    def __init__(self) -> None:
        self.file = io.StringIO()
        self.console = Console(
            file=self.file, force_terminal=True, width=80, height=24, color_system=None, _environ={}
        )
        self.strokes = 0
        self.bell = Bell(self._stroke)
        self.clock = ManualClock()

    def _stroke(self) -> None:
        self.strokes += 1

    def show(self, screen: Screen, script: Script) -> Ending:
        return show(screen, script, script, self.console, self.bell, self.clock)


def heard(seen: Seen, values: Sequence[str]) -> list[Heard]:
    """What the daemon tells of readings, each with the status after it."""
    told: list[Heard] = []
    for value in values:
        seen.yard.clock.advance(1)
        told += [Told(row_item(row)) for row in seen.yard.press("shore", value)]
        told.append(Stood(seen.status()))
    return told


def test_a_screen_shows_what_is_heard_and_ends_by_its_key(seen: Seen) -> None:
    screening, board = Screening(), seen.run_board()
    ending = screening.show(RunScreen(board, FULL), Script(*heard(seen, ["80.1"]), "q"))
    assert ending == Ending("left")
    assert "accepted: A1 replicate 1" in screening.file.getvalue()
    assert screening.strokes == 1


def test_the_alternate_screen_is_left_and_the_cursor_shown_however_it_ends(seen: Seen) -> None:
    for last in ("q", EOFError, KeyboardInterrupt):
        screening = Screening()
        script = Script(last)
        try:
            screening.show(RunScreen(seen.run_board(), FULL), script)
        except KeyboardInterrupt:
            assert last is KeyboardInterrupt
        written = screening.file.getvalue()
        assert "\x1b[?1049h" in written
        assert written.rindex("\x1b[?1049l") > written.rindex("\x1b[?1049h")
        assert written.rindex("\x1b[?25h") > written.rindex("\x1b[?25l")


def test_keys_become_calls_in_their_order(seen: Seen) -> None:
    script = Script("s", "b", "t", *"gA2 1", "enter", "q")
    seen.takers.add("shore")
    Screening().show(RunScreen(seen.run_board(), FULL), script)
    assert script.asked == [
        ("skip", {}),
        ("back", {}),
        ("take", {"instrument": "shore"}),
        ("go_to", {"zone": "A2", "replicate": 1}),
    ]


def test_keys_from_before_the_screen_stood_do_nothing_and_are_told(seen: Seen) -> None:
    board = seen.run_board()
    script = Script("f", "q")
    let_go(board, script)
    assert (board.ending, board.prompt, script.asked) == (None, None, [])
    assert board.message == (
        "2 keys were pressed before the screen stood and did nothing. Next: press again"
    )
    let_go(board, Script(EOFError))


def test_cautions_stand_alone_until_a_key_leaves_them() -> None:
    board = CautionBoard(Story(), page=["BEFORE YOU BEGIN"])
    screen = CautionScreen(board, FULL)
    assert "BEFORE YOU BEGIN" in "\n".join(drawn(screen))
    script = Script("x")
    assert Screening().show(screen, script) == Ending("left")
    assert board.is_read
    assert script.asked == []
    gone = CautionBoard(Story(), page=["BEFORE YOU BEGIN"])
    assert Screening().show(CautionScreen(gone, FULL), Script(EOFError)) == Ending("left")
    assert not gone.is_read


def test_a_daemon_that_goes_ends_the_screen(seen: Seen) -> None:
    error = ControlError("the daemon has stopped")
    ending = Screening().show(RunScreen(seen.run_board(), FULL), Script(Gone(error)))
    assert ending == Ending("gone", error)


def test_plain_lines_tell_each_event_once_and_finish_a_complete_run(seen: Seen) -> None:
    board, lines = seen.run_board(), list[str]()
    board.page = ["BEFORE YOU BEGIN", "gloves"]
    screening = Screening()
    script = Script(*heard(seen, ["80.1", "81.2", "80.4"]))
    script.steps.extend(heard(seen, ["81.4"]))
    seen.yard.act(lambda at: seen.yard.acts.runs.finish("complete", at))
    # The row of the end comes only after the loop had the chance to ask for it.
    row = {"table": "run_end", "run_id": 1, "at_utc_ns": 0, "open_slots": 0, "why": "complete"}
    end = Told(row)

    class Finishing(Script):
        def ask(self, call: str, **arguments: object) -> None:
            super().ask(call, **arguments)
            self.steps.append(end)

    finishing = Finishing(*script.steps)
    ending = tell(board, finishing, lines.append, screening.bell, screening.clock)
    assert ending == Ending("ended", open_slots=0)
    assert finishing.asked == [("finish_run", {"why": "complete"})]
    assert lines[:2] == ["BEFORE YOU BEGIN", "gloves"]
    accepted = [line for line in lines if "accepted" in line]
    assert len(accepted) == 4
    assert "run 1 ended: complete" in lines[-1]
    assert not any("\x1b" in line for line in lines)


def test_ctrl_c_in_plain_output_is_an_ending(seen: Seen) -> None:
    class Interrupted(Script):
        def take(self, timeout_s: float) -> list[Heard]:
            raise KeyboardInterrupt

    screening = Screening()
    terminal = Terminal(screening.console, io.StringIO(), True, True, screening.clock)
    ending = terminal.present(WatchScreen(seen.watch_board(), FULL), Interrupted())
    assert ending == Ending("interrupted")


def test_the_bell_sounds_on_a_terminal_and_not_into_a_file_or_when_quiet(seen: Seen) -> None:
    def written(*, is_terminal: bool, quiet: bool) -> str:
        file = io.StringIO()
        console = Console(file=file, force_terminal=is_terminal, _environ={})
        terminal = Terminal(console, io.StringIO(), True, quiet, ManualClock())
        script = Script(*heard(seen, ["80.1"]), Gone(ControlError("gone")))
        terminal.present(WatchScreen(seen.watch_board(), FULL), script)
        return file.getvalue()

    assert "\a" in written(is_terminal=True, quiet=False)
    assert "\a" not in written(is_terminal=True, quiet=True)
    assert "\a" not in written(is_terminal=False, quiet=False)
