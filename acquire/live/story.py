"""What happened at the bench, row by row, in one line each. Pure; the screen's thread.

A row of the daemon's stream (an object with ``table`` and the columns of that table) becomes at
most one happening. Nothing is told here that is not on disk: the stream carries stored rows only.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Mapping
from datetime import datetime, tzinfo
from enum import StrEnum
from typing import Any, NamedTuple

from acquire.live.words import clean, hour, place, reading_words, times
from acquire.model import TYPED_BY_HAND, opened_words

KEPT_LINES = 200

Item = Mapping[str, Any]

TYPED_ONCE = "typed once; look at the display again and type it once more"

ENTRY = "entry"
"""Stands for the table of an entry that is not accepted."""


class Tone(StrEnum):
    """What a happening means for the person, to be shown, said in words and heard."""

    ACCEPTED = "accepted"
    REFUSED = "not accepted"
    TROUBLE = "trouble"
    PLAIN = "plain"

    @property
    def mark(self) -> str:
        """One character for those who see no colour."""
        return {"accepted": "+", "not accepted": "x", "trouble": "!", "plain": "-"}[self.value]


class Happening(NamedTuple):
    """One line of the story. `at` is the hour; `who` an instrument, or empty for the bench."""

    at: str
    who: str
    text: str
    tone: Tone
    table: str

    def __str__(self) -> str:
        who = f"{self.who}: " if self.who else ""
        return f"{self.at} {self.tone.mark} {who}{self.text}"


class Story:
    """The last happenings, and what rows alone do not say: whose connection, whose check.

    `connections` and `checks` name the instrument of those that began before the story did;
    `typed` are the connections among them through which values are typed.
    """

    def __init__(
        self,
        connections: Mapping[int, str] | None = None,
        checks: Mapping[int, str] | None = None,
        zone: tzinfo | None = None,
        typed: Iterable[int] = (),
    ) -> None:
        self.happenings: deque[Happening] = deque(maxlen=KEPT_LINES)
        self._connections = dict(connections or {})
        self._checks = dict(checks or {})
        self._zone = zone
        self._typed = set(typed)

    def fold(self, item: Item) -> Happening | None:
        """Take in an object of the stream and give the happening it is, if it is one."""
        if "missed" in item:
            told = Happening(
                "--:--:--",
                "",
                f"{times(int(item['missed']), 'row')} came too fast to be shown here; "
                "all of them are stored",
                Tone.PLAIN,
                "",
            )
        else:
            table = str(item.get("table", ""))
            teller = _TELLERS.get(table)
            if teller is None:
                return None
            self._learn(table, item)
            who, text, tone = teller(self, item)
            at_ns = item["until_utc_ns"] if table == "gap" else item["at_utc_ns"]
            # A link begins its messages with the instrument's name, which stands here already.
            text = text.removeprefix(f"{who}: ")
            # What was typed is an answer to somebody, and no disturbance of a line.
            table = ENTRY if table == "noise" and self.is_typed(item) else table
            told = Happening(hour(at_ns, self._zone), clean(who), clean(text), tone, table)
        self.happenings.append(told)
        return told

    def add(self, at_iso: str, who: str, text: str, tone: Tone) -> Happening:
        """Tell what no row says by itself; `at_iso` is a moment as the status has it."""
        at = datetime.fromisoformat(at_iso).astimezone(self._zone)
        told = Happening(f"{at:%H:%M:%S}", clean(who), clean(text), tone, "")
        self.happenings.append(told)
        return told

    def _learn(self, table: str, item: Item) -> None:
        if table == "connection":
            self._connections[item["id"]] = item["instrument"]
            if item["opened_as"] == TYPED_BY_HAND:
                self._typed.add(item["id"])
        elif table == "check_begin":
            self._checks[item["id"]] = item["instrument"]

    def of_connection(self, connection_id: int) -> str:
        return self._connections.get(connection_id, "")

    def is_typed(self, item: Item) -> bool:
        """Whether a row came through a connection of which the values are typed."""
        return item.get("connection_id") in self._typed

    def of_check(self, check_id: int) -> str:
        return self._checks.get(check_id, "")


_Told = tuple[str, str, Tone]


def _reading(s: Story, i: Item) -> _Told:
    value = reading_words(i) + (", typed," if s.is_typed(i) else "")
    if i["role"] == "run":
        where = f"{place(i['zone'], i['replicate'])}, {i['stage']}"
        unchecked = ", UNCHECKED" if i["unchecked"] else ""
        text = f"{value} accepted: {where}{unchecked} (reading {i['id']})"
        return i["instrument"], text, Tone.ACCEPTED
    if i["role"] == "check":
        text = f"{value} accepted: piece {i['piece']} (reading {i['id']})"
        return i["instrument"], text, Tone.ACCEPTED
    text = f"{value} not accepted: {i['loose_reason']} (reading {i['id']}, kept as loose)"
    return i["instrument"], text, Tone.REFUSED


def _noise(s: Story, i: Item) -> _Told:
    if s.is_typed(i):
        text = f"entry not accepted: {i['reason']} [{clean(i['raw'])[:40]}]"
        return s.of_connection(i["connection_id"]), text, Tone.REFUSED
    text = f"noise on the line, no reading: {i['reason']} [{clean(i['raw'])[:40]}]"
    return s.of_connection(i["connection_id"]), text, Tone.REFUSED


def _notice(_: Story, i: Item) -> _Told:
    texts = {
        "identity": f"says it is {i['text']}",
        "power-up": f"was switched on ({i['text']})" if i["text"] else "was switched on",
        "adjusted": "was re-adjusted by its own button",
        "trouble": f"reports trouble of its own: {i['text']}",
        "typed once": TYPED_ONCE,
        "lapsed": i["text"],
    }
    tone = Tone.PLAIN if i["kind"] in ("identity", "typed once") else Tone.TROUBLE
    if i["kind"] in ("trouble", "lapsed"):
        tone = Tone.REFUSED
    return i["instrument"], texts.get(i["kind"], f"{i['kind']} {i['text']}"), tone


def _judgement(s: Story, i: Item) -> _Told:
    tone = Tone.ACCEPTED if i["outcome"] == "pass" else Tone.REFUSED
    return s.of_check(i["check_id"]), f"check {i['check_id']} {i['outcome']}: {i['message']}", tone


def _pass_end(s: Story, i: Item) -> _Told:
    text = f"check {i['check_id']} no longer holds: {i['message']}"
    tone = Tone.PLAIN if i["reason"] == "superseded" else Tone.TROUBLE
    return s.of_check(i["check_id"]), text, tone


def _run_end(_: Story, i: Item) -> _Told:
    left = f", {times(i['open_slots'], 'reading')} not taken" if i["open_slots"] else ""
    return "", f"run {i['run_id']} ended: {i['why']}{left}", Tone.PLAIN


def _assignment(_: Story, i: Item) -> _Told:
    where = f"{place(i['zone'], i['replicate'])}, {i['stage']}"
    return "", f"reading {i['reading_id']} assigned to {where}: {i['reason']}", Tone.PLAIN


_TELLERS: dict[str, Callable[[Story, Item], _Told]] = {
    "reading": _reading,
    "noise": _noise,
    "notice": _notice,
    "gap": lambda _, i: (
        i["instrument"],
        f"{times(i['lost_bytes'], 'byte')} went unrecorded since the recorder did not keep up",
        Tone.TROUBLE,
    ),
    "incident": lambda _, i: (i["instrument"], i["message"], Tone.TROUBLE),
    "void": lambda _, i: ("", f"reading {i['reading_id']} void: {i['reason']}", Tone.PLAIN),
    "assignment": _assignment,
    "run": lambda _, i: (
        i["instrument"],
        f"run {i['id']} began: {i['measure']}, {i['stage']}",
        Tone.PLAIN,
    ),
    "run_end": _run_end,
    "check_begin": lambda _, i: (
        i["instrument"],
        f"check {i['id']} began, by policy {i['policy']}",
        Tone.PLAIN,
    ),
    "check_judgement": _judgement,
    "pass_end": _pass_end,
    "connection": lambda _, i: (i["instrument"], opened_words(i["opened_as"]), Tone.PLAIN),
    "disconnection": lambda s, i: (
        s.of_connection(i["connection_id"]),
        f"disconnected: {i['message']}",
        Tone.TROUBLE,
    ),
    "note": lambda _, i: ("", f"note: {i['text']}", Tone.PLAIN),
    "sitting": lambda _, i: ("", f"sitting {i['id']} began", Tone.PLAIN),
    "sitting_end": lambda _, i: ("", f"sitting {i['sitting_id']} ended: {i['how']}", Tone.PLAIN),
}

TOLD_TABLES = (
    "sitting",
    "connection",
    "incident",
    "gap",
    "notice",
    "noise",
    "check_begin",
    "run",
    "reading",
    "assignment",
    "void",
    "check_judgement",
    "pass_end",
    "disconnection",
    "note",
    "run_end",
    "sitting_end",
)
"""Tables whose rows are told; of one moment, in the order in which one leads to the other."""
