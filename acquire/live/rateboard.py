"""The board of rating: one thing after the other, a digit a step. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from rich.text import Text

from acquire.errors import CoatbenchError
from acquire.live import blocks
from acquire.live.board import Ask, Board, Ending, Prompt, denial
from acquire.live.canvas import FAINT, GOOD, STRONG, Glyphs, headed, line, paragraph, row
from acquire.live.keys import ENTER
from acquire.live.ratingpanel import rating_panel, thing_words
from acquire.live.ratingqueue import RatingQueue
from acquire.live.screen import Screen
from acquire.live.tone import Tone
from acquire.live.words import clean, times
from acquire.trial.people import shown_name
from acquire.trial.ratings import Rateable

HELP = [
    "KEYS OF RATING",
    "The number of the step that fits rates; its words stand beside it, the worst is 1",
    "l    later: rate this one after the others",
    "r    rate the last one again; asks for the reason",
    "q    leave; what is rated is stored, and the rest waits",
    "",
    "Every rating is on disk before the next thing is shown. Nothing is ever deleted.",
]
KEYS = (("l", "later"), ("r", "last again"), ("q", "leave"), ("?", "help"))


@dataclass(slots=True)
class RateBoard(Board):
    """What one rater has before them."""

    queue: RatingQueue | None = None

    @property
    def own(self) -> RatingQueue:
        assert self.queue is not None
        return self.queue

    def on_row(self, item: Mapping[str, Any]) -> None:
        self.own.hear(item)

    def on_done(self, call: str, reply: Mapping[str, Any]) -> None:
        if call == "rate":
            self.say(f"{reply['thing']}: {reply['words']}", Tone.ACCEPTED)

    def denied(self, _call: str, error: CoatbenchError) -> str:
        self.own.denied()
        return denial(error)

    def on_key(self, key: str) -> list[Ask]:
        thing = self.own.current()
        if key == "r":
            if self.own.back() is None:
                self.say("nothing is rated yet", Tone.REFUSED)
            return []
        if thing is None:
            if key == ENTER:
                self.ending = Ending("ended")
            return []
        if key == "l":
            self.own.put_off(thing)
            return []
        return self.take(self.own.step_key(thing, key))

    def take(self, found: list[Ask] | Prompt | None) -> list[Ask]:
        """What a step amounts to: something to ask the daemon, or the person."""
        if isinstance(found, Prompt):
            self.prompt = found
            return []
        return found or []

    def on_answer(self, about: str, text: str, of: object) -> list[Ask]:
        if about == "rate again":
            assert isinstance(of, tuple)
            if not text:
                self.say("nothing was changed: a reason is wanted", Tone.REFUSED)
            again, step = of
            return self.own.rate_again(again, step, text)
        thing = self.own.current()
        if about == "step" and thing is not None:
            return self.take(typed_step(self, self.own, thing, text))
        return []

    def help(self) -> list[str]:
        return HELP

    def state_lines(self) -> dict[str, str]:
        left = self.own.left()
        return {"left": f"{times(len(left), 'rating')} to give" if left else "all is rated"}

    def unattended(self) -> list[Ask]:
        """Without a screen nobody rates: what is left was told."""
        self.ending = self.ending or Ending("left")
        return []


def step_keys(queue: RatingQueue, thing: Rateable | None) -> tuple[tuple[str, str], ...]:
    """The keys of the steps of what is rated next, for the foot of a screen."""
    return () if thing is None else ((f"1-{len(queue.scale(thing).steps)}", "step"),)


def typed_step(
    board: Board, queue: RatingQueue, thing: Any, text: str
) -> list[Ask] | Prompt | None:
    """A step as it was typed, of a scale that is too long for one key."""
    steps = len(queue.scale(thing).steps)
    if text.isascii() and text.isdigit() and 1 <= int(text) <= steps:
        return queue.rate(thing, int(text))
    board.say(f"got {text!r}, wanted a step, 1 to {steps}", Tone.REFUSED)
    return None


class RateScreen(Screen):
    """The thing and its steps, and how many are left."""

    def __init__(self, board: RateBoard, glyphs: Glyphs) -> None:
        super().__init__(glyphs)
        self._board = board

    @property
    def board(self) -> RateBoard:
        return self._board

    def lines(self, width: int, height: int) -> list[Text]:
        board, glyphs = self._board, self._glyphs
        queue = board.own
        left = queue.left()
        stage = next((t.stage for t in queue.things), "")
        head = [
            row(
                Text.assemble((clean(queue.plan.id), STRONG), f"  {clean(queue.plan.title)}"),
                Text(f"{clean(stage) or 'products'}, rated by {shown_name(queue.rater)}"),
                width,
            ),
            headed("", width, glyphs),
        ]
        thing = queue.current()
        foot = blocks.foot(board, (*step_keys(queue, thing), *KEYS), width, height)
        room = height - len(head) - len(foot) - 2
        if thing is None:
            body = [
                *blocks.large("DONE", width, blocks.tallness(width, height, 16), glyphs, GOOD),
                line("all is rated", GOOD),
                line("Enter leaves", STRONG),
            ]
        else:
            tall = blocks.tallness(width, height, 16)
            body = rating_panel(queue, thing, width, room, tall, glyphs)
        said = f"{len(queue.things) - len(left)} of {len(queue.things)} rated"
        ahead = [thing_words(queue, t) for t in left[1:6]]
        if ahead:
            said += f"; then {', '.join(ahead)}"
        body = [*body[:room], line(), *paragraph(said, width, 1, FAINT)]
        return [*head, *body, *(line() for _ in range(room + 2 - len(body))), *foot]
