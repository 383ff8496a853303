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

from acquire.live.words import clean, hour, loose_words, place, reading_words, times
from acquire.model import (
    STROKE,
    TOLD_BY_PERSON,
    TYPED_BY_HAND,
    IncidentKind,
    NoticeKind,
    Quantity,
    opened_words,
)
from acquire.model.verdict import ABANDONED

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
        self._held: dict[str, int] = {}
        """The check that holds for an instrument, by the rows that came."""
        self._begun: dict[str, int] = {}
        """The check of an instrument that is under way."""
        self._told: set[int] = set()
        """Checks of which the line about an unplug has told that they ended."""
        self._gone: dict[str, str] = {}
        """What instruments that are gone wait for, as their disconnection has told."""
        self._named: dict[str, str] = {}
        """Who instruments said that they are, in this sitting."""

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
            if teller is None or self._is_told(table, item):
                return None
            self._learn(table, item)
            who, text, tone = teller(self, item)
            self._forget(table, item)
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
            self._begun[item["instrument"]] = item["id"]
        elif table == "sitting":
            self._named.clear()
        elif table == "notice" and item["kind"] == NoticeKind.IDENTITY.value:
            self._named[item["instrument"]] = item["text"]
        elif table == "check_judgement" and item["outcome"] == "pass":
            self._held[self.of_check(item["check_id"])] = item["check_id"]

    def _forget(self, table: str, item: Item) -> None:
        if table == "disconnection":
            _, _, self._gone[self.of_connection(item["connection_id"])] = str(
                item["message"]
            ).partition(". Next: ")
        elif table == "connection":
            self._gone.pop(item["instrument"], None)
        elif table in ("check_judgement", "pass_end"):
            kept = self._held if table == "pass_end" else self._begun
            who = self.of_check(item["check_id"])
            if kept.get(who) == item["check_id"]:
                del kept[who]

    def _is_told(self, table: str, item: Item) -> bool:
        """Whether another line tells of it: an unplug is several rows, and one thing."""
        if table == "incident":
            if item["kind"] == IncidentKind.LINK_LOST.value:
                # The disconnection that comes of it says it with the same words.
                return True
            # That it is not there follows from that, once, while nothing else is to be done.
            step = self._gone.pop(item["instrument"], "")
            return bool(step) and str(item["message"]).endswith(f". Next: {step}")
        if table == "pass_end":
            return item["check_id"] in self._told
        if table == "reading":
            # A climate probe tells all the time; the row of the climate says what is news.
            return bool(item["quantity"] == Quantity.CLIMATE)
        if table == "notice" and item["kind"] == NoticeKind.IDENTITY.value:
            # It is asked at every connection; only another answer is news.
            return bool(self._named.get(item["instrument"]) == item["text"])
        is_undecided = table == "check_judgement" and item["outcome"] == "undecided"
        return is_undecided and item["check_id"] in self._told

    def ended_with(self, instrument: str) -> list[str]:
        """Which checks of an instrument end with its connection, in words; told only once."""
        ended = []
        if (held := self._held.pop(instrument, None)) is not None:
            ended.append(f"check {held} ended with that")
            self._told.add(held)
        if (begun := self._begun.pop(instrument, None)) is not None:
            ended.append(f"check {begun}, which was under way, is broken off")
            self._told.add(begun)
        return ended

    def of_connection(self, connection_id: int) -> str:
        return self._connections.get(connection_id, "")

    def is_typed(self, item: Item) -> bool:
        """Whether a row came through a connection of which the values are typed."""
        return item.get("connection_id") in self._typed

    def of_check(self, check_id: int) -> str:
        return self._checks.get(check_id, "")


_Told = tuple[str, str, Tone]


def _reading(s: Story, i: Item) -> _Told:
    if i["quantity"] == Quantity.STROKES:
        told = "a stroke" if i["channel"] == STROKE else f"its count is {i['value']}"
        again = f", {i['flags']}" if i["flags"] else ""
        return i["instrument"], f"{told}{again} (reading {i['id']})", Tone.PLAIN
    value = reading_words(i) + (", typed," if s.is_typed(i) else "")
    if i["role"] == "run":
        where = f"{place(i['zone'], i['replicate'])}, {i['stage']}"
        unchecked = ", UNCHECKED" if i["unchecked"] else ""
        text = f"{value} accepted: {where}{unchecked} (reading {i['id']})"
        return i["instrument"], text, Tone.ACCEPTED
    if i["role"] == "check":
        text = f"{value} accepted: piece {i['piece']} (reading {i['id']})"
        return i["instrument"], text, Tone.ACCEPTED
    why = loose_words(i["loose_reason"])
    text = f"{value} not accepted (reading {i['id']}, kept as loose): {why}"
    return i["instrument"], text, Tone.REFUSED


def _noise(s: Story, i: Item) -> _Told:
    if s.is_typed(i):
        text = f"entry not accepted: {i['reason']} [{clean(i['raw'])[:40]}]"
        return s.of_connection(i["connection_id"]), text, Tone.REFUSED
    noise = f"{i['reason']} [{clean(i['raw'])[:40]}]"
    text = f"noise on the line, no reading: {noise}. Next: press again"
    return s.of_connection(i["connection_id"]), text, Tone.REFUSED


def _notice(_: Story, i: Item) -> _Told:
    texts = {
        "identity": f"says it is {i['text']}",
        "power-up": f"was switched on ({i['text']})" if i["text"] else "was switched on",
        "adjusted": "was re-adjusted, as a person says"
        if i["text"] == TOLD_BY_PERSON
        else "was re-adjusted by its own button",
        "trouble": _trouble(i),
        "typed once": TYPED_ONCE,
        "lapsed": i["text"],
    }
    tone = Tone.PLAIN if i["kind"] in ("identity", "typed once") else Tone.TROUBLE
    if i["kind"] in ("trouble", "lapsed"):
        tone = Tone.REFUSED
    return i["instrument"], texts.get(i["kind"], f"{i['kind']} {i['text']}"), tone


_INFERRED = {
    "the meter's count": "coatbench targets shows which places are open; press there again",
    "no answer": "look at its cable and whether it is switched on",
}
"""What is to be done about a trouble that no line of the meter told, by how it begins."""


def _trouble(i: Item) -> str:
    text = str(i["text"])
    if i["raw"] and " " in text and text[0] not in "+-0123456789":
        # In words of the profile or the driver, and no code of the meter's.
        return f"{text}. Next: see to that, then press again"
    if i["raw"]:
        return (
            f"sends {text}, its own code for a trouble. Next: look it up in the meter's manual, "
            "then press again"
        )
    step = next((step for begin, step in _INFERRED.items() if text.startswith(begin)), "")
    return f"{text}. Next: {step}" if step else text


def _disconnection(s: Story, i: Item) -> _Told:
    who = s.of_connection(i["connection_id"])
    what, _, step = str(i["message"]).partition(". Next: ")
    ended = s.ended_with(who)
    text = "; ".join((f"disconnected: {what}", *ended))
    if step:
        text += f". Next: {step}{f', then coatbench check {who}' if ended else ''}"
    return who, text, Tone.TROUBLE


def _judgement(s: Story, i: Item) -> _Told:
    if i["message"].startswith(ABANDONED) and i["outcome"] == "undecided":
        why = i["message"].removeprefix(ABANDONED)
        text = f"check {i['check_id']} broken off: {why}. Next: {i['next_step']}"
        return s.of_check(i["check_id"]), text, Tone.REFUSED
    tone = Tone.ACCEPTED if i["outcome"] == "pass" else Tone.REFUSED
    return s.of_check(i["check_id"]), f"check {i['check_id']} {i['outcome']}: {i['message']}", tone


def _climate(item: Mapping[str, Any]) -> str:
    humidity = item["humidity_percent"]
    damp = "" if humidity is None else f" and {humidity} % humidity"
    return f"{item['temperature_c']} °C{damp}"


def _pass_end(s: Story, i: Item) -> _Told:
    who = s.of_check(i["check_id"])
    if i["reason"] == "superseded":
        return who, f"check {i['check_id']} is renewed: {i['message']}", Tone.PLAIN
    return who, f"check {i['check_id']} no longer holds: {i['message']}", Tone.TROUBLE


def _run_end(_: Story, i: Item) -> _Told:
    left = f", {times(i['open_slots'], 'reading')} not taken" if i["open_slots"] else ""
    return "", f"run {i['run_id']} ended: {i['why']}{left}", Tone.PLAIN


def _assignment(_: Story, i: Item) -> _Told:
    where = f"{place(i['zone'], i['replicate'])}, {i['stage']}"
    return "", f"reading {i['reading_id']} assigned to {where}: {i['reason']}", Tone.PLAIN


def _wash(_: Story, i: Item) -> _Told:
    zones = i["zones"].replace(",", ", ")
    if i["reason"]:
        return "", f"{i['trial']}: {i['washes']:+d} washes of {zones}: {i['reason']}", Tone.PLAIN
    return (
        "",
        f"{i['trial']}: {i['washes']} wash{'' if i['washes'] == 1 else 'es'} of {zones}"
        + (f", counted by {i['counted_by']}" if i["reading_id"] else ""),
        Tone.PLAIN,
    )


def _rating(_: Story, i: Item) -> _Told:
    # Without the step: whoever rates next must not be led by it.
    what = " ".join(filter(None, (i["zone"] or i["treatment"], i["stage"])))
    return "", f"{i['trial']}: {what} rated on {i['scale']} by {i['rater']}", Tone.PLAIN


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
    "disconnection": _disconnection,
    "note": lambda _, i: ("", f"note: {i['text']}", Tone.PLAIN),
    "wash": _wash,
    "rating": _rating,
    "application": lambda _, i: ("", f"{i['trial']}: zone {i['zone']} treated", Tone.PLAIN),
    "application_void": lambda _, i: (
        "",
        f"{i['trial']}: application {i['application_id']} taken back: {i['reason']}",
        Tone.PLAIN,
    ),
    "photo": lambda _, i: ("", f"{i['trial']}: photo {i['path']}", Tone.PLAIN),
    "climate": lambda _, i: (
        i["source"] if i["temperature_reading_id"] else "",
        f"the room has {_climate(i)}",
        Tone.PLAIN,
    ),
    "sitting": lambda _, i: ("", f"sitting {i['id']} began", Tone.PLAIN),
    "sitting_end": lambda _, i: ("", f"sitting {i['sitting_id']} ended: {i['how']}", Tone.PLAIN),
}

TOLD_TABLES = (
    "sitting",
    "climate",
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
    "disconnection",
    "check_judgement",
    "pass_end",
    "note",
    "application",
    "application_void",
    "wash",
    "rating",
    "photo",
    "run_end",
    "sitting_end",
)
"""Tables whose rows are told; of one moment, in the order in which one leads to the other."""
