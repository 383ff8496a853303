"""A board: the state behind a screen, folded from what the feed brings and from keys. Pure.

A board draws nothing, rings nothing and asks nobody: it says what it wants asked (`Ask`), keeps
what is to be shown, and says how it ended. The loops around it do the rest.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from acquire.errors import CoatbenchError
from acquire.live.feed import Denied, Done, Gone, Heard, Stood, Told
from acquire.live.keys import BACKSPACE, ENTER, ESCAPE
from acquire.live.story import Happening, Story
from acquire.live.suspects import Suspects
from acquire.live.tone import Tone
from acquire.live.words import clean

Status = Mapping[str, Any]

_OVERTAKING = {"reading", "check_judgement", "pass_end"}
"""Rows after which the last word to the person is of the past."""


class Ask(NamedTuple):
    """A call for the daemon that a key or the state of things wants made."""

    call: str
    arguments: dict[str, object]


class Ending(NamedTuple):
    """How a board ended: *left* by a key, *ended* by itself, or *gone* with the daemon."""

    how: str
    error: CoatbenchError | None = None
    open_slots: int = 0


@dataclass(slots=True)
class Prompt:
    """A line the person types; `about` says what it is for and `of` what it is about."""

    question: str
    about: str
    of: object = None
    text: str = ""

    def press(self, key: str) -> str | None:
        """*enter* or *escape* when the line is done, else None."""
        if key in (ENTER, ESCAPE):
            return key
        if key == BACKSPACE:
            self.text = self.text[:-1]
        elif len(key) == 1 and len(self.text) < 200:
            self.text += key
        return None


@dataclass(slots=True)
class Board:
    """What all screens have: the story, the status, one message, a prompt, a page over it all.

    `page` (cautions, help) covers the screen until a key is pressed; readings go on being stored
    and folded meanwhile.
    """

    story: Story
    status: Status | None = None
    message: str = ""
    message_tone: Tone = Tone.PLAIN
    prompt: Prompt | None = None
    page: Sequence[str] = ()
    last: Mapping[str, Any] | None = None
    """The row of the last reading that is of interest here, with ``void_reason`` if it is void."""
    lost: Mapping[str, Any] | None = None
    """The row of the noise that came where the last reading would be; None after a reading."""
    ending: Ending | None = None
    _why: str = ""
    _far: set[int] = field(default_factory=set)
    _told: dict[str, str] = field(default_factory=dict)
    _latest: dict[str, int] = field(default_factory=dict)
    _suspects: Suspects = field(default_factory=Suspects)

    # -- what is heard ---------------------------------------------------------------------------

    def fold(self, heard: Heard) -> Happening | None:
        """Take in one thing; gives the happening it is, if it is one."""
        match heard:
            case Told(item):
                if self._is_known(item):
                    return None
                happening = self.story.fold(item)
                if item.get("table") in _OVERTAKING:
                    self.message = ""
                last = self.last
                if last and item.get("table") == "void" and last["id"] == item["reading_id"]:
                    self.last = {**last, "void_reason": item["reason"]}
                last = self.last
                self.on_row(item)
                if last is not None and _is_aside(item, happening):
                    # The value that was asked for stays in sight, and what became of it.
                    self.last = last
                return happening
            case Stood(status):
                self.status = status
                self.on_status(status)
                suspect = self._suspects.stand(status)
                if suspect is not None:
                    return self.story.add(status["at"], *suspect, Tone.TROUBLE)
            case Done(call, reply):
                self.on_done(call, reply)
            case Denied(call, error):
                self.say(self.denied(call, error), Tone.REFUSED)
            case Gone(error):
                self.ending = self.ending or Ending("gone", error)
        return None

    def _is_known(self, item: Mapping[str, Any]) -> bool:
        """Whether a row was heard before: recalled from the store, it may come by the stream too.

        The single writer numbers the rows of a table upwards.
        """
        table, number = item.get("table"), item.get("id")
        if table is None or number is None:
            return False
        if number <= self._latest.get(table, 0):
            return True
        self._latest[table] = number
        return False

    def on_row(self, item: Mapping[str, Any]) -> None:
        """A stored row came."""

    def on_status(self, status: Status) -> None:
        """A new status came."""

    def on_done(self, call: str, reply: Mapping[str, Any]) -> None:
        """The daemon did what was asked."""

    def denied(self, _call: str, error: CoatbenchError) -> str:
        """The words for what the daemon refused to do."""
        return denial(error)

    def say(self, text: str, tone: Tone = Tone.PLAIN) -> None:
        self.message, self.message_tone = clean(text), tone

    # -- keys ------------------------------------------------------------------------------------

    def press(self, key: str) -> list[Ask]:
        """A key was pressed; gives what is to be asked."""
        if self.page:
            self.page = ()
            return []
        if self.prompt is not None:
            prompt, how = self.prompt, self.prompt.press(key)
            if how is None:
                return []
            self.prompt = None
            if how == ESCAPE:
                self.say("nothing was changed")
                return []
            return self.on_answer(prompt.about, prompt.text.strip(), prompt.of)
        if key == "?":
            self.page = self.help()
            return []
        if key == "q":
            self.ending = Ending("left")
            return []
        return self.on_key(key)

    def on_key(self, _key: str) -> list[Ask]:
        """A key with a meaning of this board's own."""
        return []

    def on_answer(self, _about: str, _text: str, _of: object) -> list[Ask]:
        """A prompt was answered."""
        return []

    def help(self) -> list[str]:
        """The page of keys."""
        return []

    # -- without a screen ------------------------------------------------------------------------

    def news(self) -> list[str]:
        """Lines about the state that were not told yet, for plain output."""
        fresh = []
        for key, text in self.state_lines().items():
            if text != self._told.get(key, "") and text:
                fresh.append(text)
            self._told[key] = text
        return fresh

    def retell(self, subject: str) -> None:
        """Tell this line of the state once more, though it says what it said."""
        self._told.pop(subject, None)

    def state_lines(self) -> dict[str, str]:
        """The state in sentences, by subject; each is told when it changes."""
        return {}

    def unattended(self) -> list[Ask]:
        """What is to be asked where nobody presses keys."""
        return []

    def know_suspects(self, check_id: int, adjusted_id: int) -> None:
        """What checks and notices up to these made suspect is past."""
        self._suspects.know(check_id, adjusted_id)

    def note_lost(self, item: Mapping[str, Any], meter: str = "") -> None:
        """A stored row of this meter, or of any: noise stands before the eyes until a reading is.

        Whoever pressed must not take the reading before it for the one that never came.
        """
        table = item.get("table")
        if table == "noise":
            who = self.story.of_connection(item["connection_id"])
            if meter in ("", who) and not self.story.is_typed(item):
                self.lost = item
        elif table in ("reading", "connection") and meter in ("", item["instrument"]):
            self.lost = None

    # -- what several boards do alike ----------------------------------------------------------

    def ask_why_void(self, reading_id: int, words: str) -> None:
        """Ask the person why the reading that is named is void; what comes meanwhile is safe."""
        self._why = f"why is reading {reading_id} ({words}) void"
        self.prompt = Prompt(self._why, "void", reading_id)

    def ask_again(self, reading_id: object) -> list[Ask]:
        """Enter without a reason: whoever types it now must not be taken to press keys."""
        again = self._why.removesuffix("; a reason in words")
        self._why = f"{again}; a reason in words"
        self.prompt = Prompt(self._why, "void", reading_id)
        return []

    def say_far(self, reading_id: int, words: str) -> None:
        """Say once of a reading that was accepted that it lies where nobody would expect it."""
        if reading_id not in self._far:
            self._far.add(reading_id)
            self.say(
                f"{words}. Next: if the press slipped, v (or coatbench void --last) voids it",
                Tone.TROUBLE,
            )

    def take_asked(self, meter: str) -> list[Ask]:
        """The key for asking the meter was pressed; said no to where it can only be pressed."""
        own = self.instrument(meter)
        if own is not None and own["connected"] and not own["can_take"]:
            ahead = "type what it shows" if own.get("typed") else f"press the button of {meter}"
            self.say(f"{meter} cannot be asked for a reading. Next: {ahead}", Tone.REFUSED)
            return []
        return [Ask("take", {"instrument": meter})]

    def is_typed(self, meter: str) -> bool:
        """Whether the meter has no port, so that a person types what it shows."""
        own = self.instrument(meter)
        return own is not None and bool(own.get("typed"))

    def can_take(self, meter: str) -> bool:
        """Whether the meter is there and can be asked for a reading."""
        own = self.instrument(meter)
        return own is not None and bool(own["can_take"])

    # -- looking things up -------------------------------------------------------------------------

    def instrument(self, name: str) -> Mapping[str, Any] | None:
        """The status entry of an instrument."""
        if self.status is None:
            return None
        return next((i for i in self.status["instruments"] if i["id"] == name), None)


def denial(error: CoatbenchError) -> str:
    """A refusal in one line."""
    return str(error).replace("\n", " ")


def asked_words(meter: str, reply: Mapping[str, Any]) -> tuple[str, Tone]:
    """What became of asking a meter for a reading, and its tone."""
    if reply.get("asked"):
        return f"asked {meter} for a reading", Tone.PLAIN
    return f"{meter} was not asked: it is not connected", Tone.REFUSED


def _is_aside(item: Mapping[str, Any], happening: Happening | None) -> bool:
    """Whether a row is a value that came beside one that was asked for."""
    return (
        item.get("table") == "reading"
        and item["role"] == "loose"
        and happening is not None
        and happening.tone is Tone.PLAIN
    )
