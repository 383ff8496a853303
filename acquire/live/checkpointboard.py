"""A run in which each zone is rated right after its readings: one screen for a checkpoint. Pure.

The meter is in the one hand and the eyes are on the zone: so the water class is asked for when the
last reading of a zone is in, and what was put off is asked for at the end. Readings that come
meanwhile go where the run has them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from rich.text import Text

from acquire.errors import CoatbenchError
from acquire.live import blocks
from acquire.live.board import Ask, Prompt
from acquire.live.canvas import FAINT, Glyphs, headed, line
from acquire.live.keys import ENTER
from acquire.live.rateboard import step_keys, typed_step
from acquire.live.ratingpanel import rating_panel
from acquire.live.ratingqueue import RatingQueue
from acquire.live.runboard import HELP as RUN_HELP
from acquire.live.runboard import RunBoard
from acquire.live.runscreen import RunScreen
from acquire.live.tone import Tone
from acquire.live.words import clean, reading_words, times
from acquire.trial.ratings import Rateable

HELP = [
    *RUN_HELP[:1],
    "The number of a step rates the zone that is asked for; its steps stand on the screen,",
    "1 is the worst",
    "l    later: rate it after the others",
    "r    rate the last one again; asks for the reason",
    *RUN_HELP[1:],
]
KEYS = (
    ("l", "later"),
    ("r", "last again"),
    ("v", "void last"),
    ("f", "finish"),
    ("q", "leave"),
    ("?", "help"),
)


@dataclass(slots=True)
class CheckpointBoard(RunBoard):
    """A run's board with what its rater has still to rate; `due` are zones that were read."""

    queue: RatingQueue | None = None
    last_replicate: int = 1
    due: set[str] = field(default_factory=set)
    _warned: bool = False

    @property
    def own_queue(self) -> RatingQueue:
        assert self.queue is not None
        return self.queue

    def asked_for(self) -> Rateable | None:
        """What is to be rated now; None while the meter is to be used."""
        if self.checking is not None:
            return None
        queue = self.own_queue
        if self.is_complete:
            return queue.current()
        return queue.current([t for t in queue.things if t.zone in self.due])

    # -- what is heard ---------------------------------------------------------------------------

    def on_row(self, item: Mapping[str, Any]) -> None:
        RunBoard.on_row(self, item)
        self.own_queue.hear(item)
        if (
            item.get("table") == "reading"
            and item["role"] == "run"
            and item["run_id"] == self.run_id
            and item["replicate"] == self.last_replicate
        ):
            self.due.add(item["zone"])

    def on_done(self, call: str, reply: Mapping[str, Any]) -> None:
        if call == "rate":
            self.say(f"{reply['thing']}: {reply['words']}", Tone.ACCEPTED)
        else:
            RunBoard.on_done(self, call, reply)

    def denied(self, call: str, error: CoatbenchError) -> str:
        if call == "rate":
            self.own_queue.denied()
        return RunBoard.denied(self, call, error)

    # -- keys ------------------------------------------------------------------------------------

    def on_key(self, key: str) -> list[Ask]:
        queue, thing = self.own_queue, self.asked_for()
        if key == "r":
            if queue.back() is None:
                self.say("nothing is rated yet", Tone.REFUSED)
            return []
        if thing is not None and key == "l":
            queue.put_off(thing)
            self.due.discard(thing.zone)
            return []
        if thing is not None and (found := queue.step_key(thing, key)) is not None:
            return self._take(found)
        if key == ENTER and self.is_complete and not self._warned and (left := queue.left()):
            self._warned = True
            self.say(
                f"{times(len(left), 'rating')} not given. Next: rate, or Enter again finishes "
                "without",
                Tone.REFUSED,
            )
            return []
        return RunBoard.on_key(self, key)

    def on_answer(self, about: str, text: str, of: object) -> list[Ask]:
        if about == "rate again":
            assert isinstance(of, tuple)
            again, step = of
            return self.own_queue.rate_again(again, step, text)
        if about == "step":
            assert isinstance(of, Rateable)
            found = typed_step(self, self.own_queue, of, text)
            return [] if found is None else self._take(found)
        return RunBoard.on_answer(self, about, text, of)

    def _take(self, found: list[Ask] | Prompt) -> list[Ask]:
        if isinstance(found, Prompt):
            self.prompt = found
            return []
        return found

    def help(self) -> list[str]:
        return HELP

    def state_lines(self) -> dict[str, str]:
        left = self.own_queue.left()
        more = f"{times(len(left), 'rating')} to give: coatbench rate" if left else ""
        return {**RunBoard.state_lines(self), "ratings": more if self.is_complete else ""}


class CheckpointScreen(RunScreen):
    """The screen of a run; while a zone is to be rated, its scale in the place of the target."""

    def __init__(self, board: CheckpointBoard, glyphs: Glyphs) -> None:
        super().__init__(board, glyphs)
        self._own = board

    def lines(self, width: int, height: int) -> list[Text]:
        board, glyphs = self._own, self._glyphs
        thing = board.asked_for()
        if thing is None or board.run is None:
            return super().lines(width, height)
        head = [*self._head(width), headed("", width, glyphs)]
        foot = blocks.foot(board, (*step_keys(board.own_queue, thing), *KEYS), width, height)
        last = board.last
        told = (
            f"last: {reading_words(last)}, {clean(last['zone'] or '')}. {board.means()}"
            if last is not None
            else "no reading yet"
        )
        room = height - len(head) - len(foot) - 3
        tall = blocks.tallness(width, height, 20)
        panel = rating_panel(board.own_queue, thing, width, room, tall, glyphs)
        body = [*panel, line(), line(told, FAINT), self._progress(width)]
        rest = height - len(head) - len(foot) - len(body)
        return [*head, *body, *(line() for _ in range(rest)), *foot]
