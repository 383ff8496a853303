"""How each row of the daemon's stream is told, in one line. Pure; the screen's thread."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Protocol

from acquire.live.tone import Tone
from acquire.live.words import clean, loose_words, place, reading_words, times
from acquire.model import (
    RATE_HOLDS,
    STROKE,
    TOLD_BY_PERSON,
    Quantity,
    opened_words,
)
from acquire.model.room import room_words
from acquire.model.verdict import ABANDONED
from acquire.trial.people import shown_name

Item = Mapping[str, Any]

TYPED_ONCE = "typed once; look at the display again and type it once more"

Told = tuple[str, str, Tone]
"""Who it is about (an instrument, or empty for the bench), what is said, and what it means."""


class Knows(Protocol):
    """What the rows before have told, which a row alone does not say."""

    def of_connection(self, connection_id: int) -> str: ...

    def of_check(self, check_id: int) -> str: ...

    def is_typed(self, item: Item) -> bool: ...

    def ended_with(self, instrument: str) -> list[str]: ...


def _reading(s: Knows, i: Item) -> Told:
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
    why = loose_words(i["loose_reason"], typed=s.is_typed(i))
    text = f"{value} not accepted (reading {i['id']}, kept as loose): {why}"
    return i["instrument"], text, Tone.REFUSED


def _noise(s: Knows, i: Item) -> Told:
    if s.is_typed(i):
        text = f"entry not accepted: {i['reason']} [{clean(i['raw'])[:40]}]"
        return s.of_connection(i["connection_id"]), text, Tone.REFUSED
    noise = f"{i['reason']} [{clean(i['raw'])[:40]}]"
    text = f"noise on the line, no reading: {noise}. Next: press again"
    return s.of_connection(i["connection_id"]), text, Tone.REFUSED


def _notice(s: Knows, i: Item) -> Told:
    is_typed = s.is_typed(i)
    texts = {
        "identity": f"says it is {i['text']}",
        "power-up": "was switched off and on, as a person says" if is_typed else _switched_on(i),
        "adjusted": "was re-adjusted, as a person says"
        if is_typed or i["text"] == TOLD_BY_PERSON
        else "was re-adjusted by its own button",
        "trouble": _trouble(i),
        "typed once": TYPED_ONCE,
        "lapsed": i["text"],
        "other rate": i["text"],
    }
    is_plain = i["kind"] in ("identity", "typed once") or i["text"] == RATE_HOLDS
    tone = Tone.PLAIN if is_plain else Tone.TROUBLE
    if i["kind"] in ("trouble", "lapsed"):
        tone = Tone.REFUSED
    return i["instrument"], texts.get(i["kind"], f"{i['kind']} {i['text']}"), tone


def _switched_on(i: Item) -> str:
    if i["text"]:
        return f"was switched on ({i['text']})"
    # Without bytes nobody said it: it follows from a count or from a silence.
    return "was switched on" if i["raw"] else "was switched on, used out of reach, or exchanged"


_INFERRED = {
    "the meter's count": "press again where it was; in a run coatbench targets shows what is open",
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


def _disconnection(s: Knows, i: Item) -> Told:
    who = s.of_connection(i["connection_id"])
    what, _, step = str(i["message"]).partition(". Next: ")
    ended = s.ended_with(who)
    text = "; ".join((f"disconnected: {what}", *ended))
    if step:
        text += f". Next: {step}{f', then coatbench check {who}' if ended else ''}"
    return who, text, Tone.TROUBLE


def _judgement(s: Knows, i: Item) -> Told:
    if i["message"].startswith(ABANDONED) and i["outcome"] == "undecided":
        why = i["message"].removeprefix(ABANDONED)
        text = f"check {i['check_id']} broken off: {why}. Next: {i['next_step']}"
        return s.of_check(i["check_id"]), text, Tone.REFUSED
    tone = Tone.ACCEPTED if i["outcome"] == "pass" else Tone.REFUSED
    return s.of_check(i["check_id"]), f"check {i['check_id']} {i['outcome']}: {i['message']}", tone


def _pass_end(s: Knows, i: Item) -> Told:
    who = s.of_check(i["check_id"])
    if i["reason"] == "superseded":
        return who, f"check {i['check_id']} is renewed: {i['message']}", Tone.PLAIN
    return who, f"check {i['check_id']} no longer holds: {i['message']}", Tone.TROUBLE


def _run_end(_: Knows, i: Item) -> Told:
    left = f", {times(i['open_slots'], 'reading')} not taken" if i["open_slots"] else ""
    return "", f"run {i['run_id']} ended: {i['why']}{left}", Tone.PLAIN


def _assignment(_: Knows, i: Item) -> Told:
    where = f"{place(i['zone'], i['replicate'])}, {i['stage']}"
    return "", f"reading {i['reading_id']} assigned to {where}: {i['reason']}", Tone.PLAIN


def _wash(_: Knows, i: Item) -> Told:
    zones = i["zones"].replace(",", ", ")
    if i["reason"]:
        return "", f"{i['trial']}: {i['washes']:+d} washes of {zones}: {i['reason']}", Tone.PLAIN
    return (
        "",
        f"{i['trial']}: {i['washes']} wash{'' if i['washes'] == 1 else 'es'} of {zones}"
        + (f", counted by {i['counted_by']}" if i["reading_id"] else ""),
        Tone.PLAIN,
    )


def _rating(_: Knows, i: Item) -> Told:
    # Without the step: whoever rates next must not be led by it.
    what = " ".join(filter(None, (i["zone"] or i["treatment"], i["stage"])))
    return "", f"{i['trial']}: {what} rated on {i['scale']} by {shown_name(i['rater'])}", Tone.PLAIN


TELLERS: dict[str, Callable[[Knows, Item], Told]] = {
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
        f"the room has {room_words(i['temperature_c'], i['humidity_percent'])}",
        Tone.PLAIN,
    ),
    "sitting": lambda _, i: ("", f"sitting {i['id']} began", Tone.PLAIN),
    "sitting_end": lambda _, i: ("", f"sitting {i['sitting_id']} ended: {i['how']}", Tone.PLAIN),
}
"""How a row of each table is told; a table that is not here is told by other rows."""

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
