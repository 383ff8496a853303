"""The line in which a person types what an instrument without a port shows. Pure.

A board that has a meter has an `Entry` beside it: which keys open the line, and whether a first
entry waits to be typed again, which only the rows of the stream tell.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from acquire.live.board import Ask, Board, Prompt
from acquire.live.telling import TYPED_ONCE
from acquire.live.tone import Tone
from acquire.live.words import clean, flag_words, loose_words, place, reading_words

OPENS_ENTRY = "e"
_BEGINS = frozenset("0123456789+-.,")
"""A number begins with one of these, and no key of a board is one of them."""

HELP = (
    "e    type what the meter shows, if it has no port. A digit, a sign or a point begins at once; "
    "Enter gives the entry, Esc clears it. adjusted and off tell what it cannot tell itself, "
    "on PIECE that it is on the piece of the check, whatever it shows"
)

NOT_HEARD = (
    "it was typed in, and nothing was heard of it in time. Next: coatbench readings shows what "
    "became of it"
)


@dataclass(slots=True)
class Entry:
    """The entries of one meter. `waiting` is a first one that is to be typed again, or empty."""

    meter: str
    waiting: str = ""

    def on_row(self, board: Board, item: Mapping[str, Any]) -> None:
        """A stored row came: a first entry begins to wait, and whatever else is typed ends that."""
        table = item.get("table")
        if table == "notice" and item["kind"] == "typed once":
            if item["instrument"] == self.meter:
                self.waiting = str(item["text"])
        elif table in ("reading", "notice", "connection"):
            if item["instrument"] == self.meter:
                self.waiting = ""
        elif table == "noise" and board.story.of_connection(item["connection_id"]) == self.meter:
            self.waiting = ""

    def opens(self, board: Board, key: str) -> bool:
        """Whether a key opened the line."""
        if not board.is_typed(self.meter) or (key != OPENS_ENTRY and key not in _BEGINS):
            return False
        text = "" if key == OPENS_ENTRY else key
        # Not what was typed before: the second look is at the display and not at the first entry.
        again = ", once more" if self.waiting else ""
        board.prompt = Prompt(f"{clean(self.meter)} shows{again}", "entry", text=text)
        return True

    def given(self, board: Board, text: str) -> list[Ask]:
        """The line was ended with Enter."""
        if not text:
            board.say("nothing was typed in")
            return []
        if piece := insisted(text):
            return [Ask("insist_piece", {"instrument": self.meter, "piece": piece})]
        return [Ask("type", {"instrument": self.meter, "text": text})]

    def done(self, board: Board, reply: Mapping[str, Any]) -> None:
        """The daemon has taken the entry; what shows nowhere else is said where the eyes are."""
        shown = [row for row in reply["rows"] if _shows_by_itself(row)]
        if not shown:
            words, tone = fates(reply)[-1]
            board.say(words, tone)

    def words(self, board: Board) -> str:
        """What is to be typed; empty where the meter has a port."""
        if not board.is_typed(self.meter):
            return ""
        if self.waiting:
            return f"{TYPED_ONCE[0].upper()}{TYPED_ONCE[1:]}"
        return f"type what {clean(self.meter)} shows"


def insisted(text: str) -> str:
    """The piece that a typed line says the meter is on (``on T1``); empty where it says none."""
    word, _, piece = text.strip().partition(" ")
    return piece.strip() if word.lower() == "on" else ""


def _shows_by_itself(row: Mapping[str, Any]) -> bool:
    """The last reading and an entry that waits have their own places on a screen."""
    return bool(row["table"] == "reading" or row.get("kind") == "typed once")


def fates(reply: Mapping[str, Any]) -> list[tuple[str, Tone]]:
    """What became of an entry, from the reply to the call: words and tone, one a value."""
    return [_fate(row) for row in reply["rows"]] or [(NOT_HEARD, Tone.TROUBLE)]


def _fate(row: Mapping[str, Any]) -> tuple[str, Tone]:
    if row["table"] == "reading":
        return _reading(row)
    if row["table"] == "noise":
        reason = clean(row["reason"])
        step = "" if reason.endswith("again") else ". Next: look at the display and type it again"
        return f"not accepted: {reason}{step}", Tone.REFUSED
    check = f"Next: coatbench check {clean(row['instrument'])}"
    said = {
        "typed once": TYPED_ONCE,
        "adjusted": f"re-adjusted: what was checked before says nothing of it now. {check}",
        "power-up": f"switched off and on: a check from before does not hold any more. {check}",
    }
    return said.get(row["kind"], clean(row["text"])), Tone.PLAIN


def _reading(row: Mapping[str, Any]) -> tuple[str, Tone]:
    value, number = reading_words(row), row["id"]
    if row["role"] == "run":
        unchecked = ", UNCHECKED" if row["unchecked"] else ""
        where = f"{place(row['zone'], row['replicate'])}, {clean(row['stage'])}{unchecked}"
        return f"{value} accepted: {where} (reading {number})", Tone.ACCEPTED
    if row["role"] == "check":
        return f"{value} accepted: piece {clean(row['piece'])} (reading {number})", Tone.ACCEPTED
    why = loose_words(row["loose_reason"] or flag_words(row["flags"]), typed=True)
    return f"{value} not accepted (reading {number}, kept as loose): {why}", Tone.REFUSED
