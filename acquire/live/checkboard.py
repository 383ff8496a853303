"""The board of a check: which piece is next, what was read so far. Pure.

The verdict itself is read from the store when the board has ended, since a stream may miss rows
and the store does not.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from acquire.live.abandon import answered, ask_to_abandon
from acquire.live.board import Ask, Board, Ending, Prompt, Status, asked_words
from acquire.live.entry import HELP as ENTRY_HELP
from acquire.live.entry import Entry
from acquire.live.strange import strange
from acquire.live.tone import Tone
from acquire.live.words import (
    TAKE_KEY,
    check_step,
    clean,
    figure,
    piece_step,
    renewal_words,
    shared_words,
    taken_words,
    voided_words,
    width_words,
)
from acquire.model import channel_label

HELP = [
    "KEYS OF A CHECK",
    "t    take: ask the meter for a reading, if it is one that must be asked",
    ENTRY_HELP,
    "i    insist: the meter is on the piece that is named, however far from it it reads",
    "v    void the last reading if the press slipped; its piece is read anew, once a check",
    "a    abandon the check; with readings in it, it ends the pass it was to renew",
    "q    leave this screen; the check stays under way (coatbench check comes back to it)",
    "",
    "Put the meter on the piece that is named and press its button as often as is said.",
    "A reading that is flagged (out of range, repeated, an echo) is not counted: press again.",
    "One bell: accepted. Two bells: not accepted.",
]


BETWEEN = "   "
"""Stands between the values of two channels."""


class Step(NamedTuple):
    """One step of the policy: a piece and how many readings it wants."""

    piece: str
    readings: int


@dataclass(slots=True)
class CheckBoard(Board):
    """State of the screen of check `check_id` of instrument `meter`."""

    check_id: int = 0
    meter: str = ""
    steps: tuple[Step, ...] = ()
    channels: tuple[str, ...] = ()
    read: dict[tuple[str, str], dict[int, str]] = field(default_factory=dict)
    """Values that count so far with the numbers of their readings, by piece and channel."""
    seen: set[int] = field(default_factory=set)
    entry: Entry = field(init=False)
    _anew: set[str] = field(default_factory=set)
    """Pieces of which a reading was voided."""
    _is_under_way: bool = False

    def __post_init__(self) -> None:
        self.entry = Entry(self.meter)

    def count(self, reading_id: int, piece: str, channel: str, value: object) -> None:
        """A reading of a piece; the same one twice counts once."""
        if reading_id not in self.seen:
            self.seen.add(reading_id)
            self.read.setdefault((piece, channel), {})[reading_id] = figure(value)

    def uncount(self, reading_id: int) -> None:
        """A reading was voided."""
        for (piece, _), found in self.read.items():
            if found.pop(reading_id, None) is not None:
                self._anew.add(piece)

    # -- what is heard ---------------------------------------------------------------------------

    def on_row(self, item: Mapping[str, Any]) -> None:
        table = item.get("table")
        self.entry.on_row(self, item)
        self.note_lost(item, self.meter)
        if table == "reading" and item["instrument"] == self.meter:
            self.last = item
            if item["role"] == "check" and item["check_id"] == self.check_id:
                self.count(item["id"], item["piece"], item["channel"], item["value"])
        elif table == "void":
            self.uncount(item["reading_id"])
        elif table == "check_judgement" and item["check_id"] == self.check_id:
            self.ending = self.ending or Ending("ended")

    def on_status(self, _status: Status) -> None:
        own = self.instrument(self.meter)
        checking = own["checking"] if own else None
        if checking is not None and checking["check_id"] == self.check_id:
            self._is_under_way = True
            for reading_id, words in strange(checking):
                self.say_far(reading_id, words)
        elif self._is_under_way:
            self.ending = self.ending or Ending("ended")

    def on_done(self, call: str, reply: Mapping[str, Any]) -> None:
        if call == "take":
            self.say(*asked_words(self.meter, reply))
        elif call == "type":
            self.entry.done(self, reply)
        elif call == "void":
            self.say(voided_words(reply))
        elif call == "insist_piece":
            piece = clean(reply["insisted"])
            again = "type it" if self.is_typed(self.meter) else "press"
            self.say(f"{clean(self.meter)} is on {piece}, as you say: {again} again, and it counts")

    # -- what is so ------------------------------------------------------------------------------

    @property
    def own(self) -> Mapping[str, Any] | None:
        return self.instrument(self.meter)

    @property
    def piece(self) -> str | None:
        """The piece to be read now."""
        own = self.own
        checking = own["checking"] if own else None
        return None if checking is None else checking["piece"]

    def step_words(self) -> str:
        own = self.own
        return check_step(own, TAKE_KEY) if own else ""

    def values(self, step: Step) -> str:
        """What was read on a piece, all channels."""
        parts = []
        for channel in self.channels:
            found = self.read.get((step.piece, channel), {}).values()
            label = f"{clean(channel_label(channel))}: " if len(self.channels) > 1 else ""
            parts.append(f"{label}{'  '.join(found)}" if found else "")
        return BETWEEN.join(p for p in parts if p)

    def left(self, step: Step) -> int:
        """Readings that a piece still wants."""
        counts = (len(self.read.get((step.piece, g), {})) for g in self.channels)
        return step.readings - min(counts, default=0)

    # -- keys ------------------------------------------------------------------------------------

    def on_key(self, key: str) -> list[Ask]:
        if self.entry.opens(self, key):
            return []
        if key == "t":
            return self.take_asked(self.meter)
        if key == "v":
            last = self._last_taken()
            if last is None:
                self.say("nothing was read yet that counts: there is nothing to void", Tone.REFUSED)
            else:
                self.ask_why_void(last["reading_id"], taken_words(last))
        if key == "i" and self.piece is not None:
            self.prompt = Prompt(
                f"{clean(self.meter)} is on {clean(self.piece)}, whatever it reads: type "
                f"{clean(self.piece)}",
                "insist",
                self.piece,
            )
        if key == "a":
            ask_to_abandon(self, self.meter)
        return []

    def _last_taken(self) -> Mapping[str, Any] | None:
        own = self.own
        checking = own["checking"] if own else None
        return None if checking is None else checking["last_taken"]

    def on_answer(self, about: str, text: str, of: object) -> list[Ask]:
        if about == "entry":
            return self.entry.given(self, text)
        if about == "void":
            if text:
                return [Ask("void", {"reading_id": of, "reason": text})]
            return self.ask_again(of)
        if about == "insist":
            if text.removeprefix("it is ").strip() != of:
                self.say("nothing was said of the piece: the check goes on")
                return []
            return [Ask("insist_piece", {"instrument": self.meter, "piece": of})]
        return answered(self, self.meter, text)

    def help(self) -> list[str]:
        return HELP

    # -- without a screen ------------------------------------------------------------------------

    def state_lines(self) -> dict[str, str]:
        own = self.own
        if own is None:
            return {}
        away = "" if own["connected"] else f"{self.meter} is not connected: {own['message']}"
        checking = own["checking"]
        piece = checking["piece"] if checking else None
        place = next((s for s in self.steps if s.piece == piece), None)
        # Told once a piece and not once a reading: how many are left shows in what happens.
        again = " again" if piece in self._anew else ""
        step = ""
        if place is not None:
            typing = f" (coatbench type {clean(self.meter)} VALUE)"
            step = piece_step(own, f"{clean(piece)}{again}", place.readings, typing)
        waiting = self.entry.words(self) if self.entry.waiting else ""
        due = "; ".join(renewal_words(own))
        wide = "; ".join(width_words(own))
        shared = shared_words(own)
        return {
            "away": away,
            "shared": shared,
            "due": due,
            "wide": wide,
            "step": step,
            "typed": waiting,
        }
