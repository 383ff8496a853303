"""Values, times and states in the words of the screens. Pure; any thread.

Everything that comes from outside (devices, files, other people) passes `clean`, so that no text
can move the cursor or change the terminal.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import tzinfo
from decimal import Decimal, InvalidOperation
from typing import Any

from acquire.model import at_channel, from_utc_ns
from acquire.units import symbol
from acquire.visible import visible

_LONGEST = 400
_LONGEST_STEP = 2000
"""No step of ours is as long; a rule to write or a command to type is of use only whole."""
_STEP = ". Next: "


def clean(text: object) -> str:
    """One line without control characters, of bounded length, with its next step whole."""
    what, sign, step = str(text).partition(_STEP)
    return _bounded(what, _LONGEST) + (sign + _bounded(step, _LONGEST_STEP) if sign else "")


def _bounded(text: str, most: int) -> str:
    shown = visible(text[: most + 1].replace("\r\n", " ").replace("\n", " "))
    return shown if len(shown) <= most else shown[: most - 1] + "…"


def figure(value: object) -> str:
    """A value for a screen: as it is kept, but never more than four decimals.

    The store and the exports keep every digit.
    """
    if value is None:
        return "none"
    try:
        number = Decimal(str(value))
    except InvalidOperation:
        return clean(value)
    exponent = number.as_tuple().exponent
    if not isinstance(exponent, int):
        return clean(value)
    shown = round(number, 4) if exponent < -4 else number
    return f"{shown:f}"


def angle(channel: str) -> str:
    """`` at 20°``; empty for quantities without a channel."""
    return clean(at_channel(channel))


def flag_words(flags: str) -> str:
    """Flags as stored (comma between them), in words."""
    return clean(flags.replace("-", " ").replace(",", ", "))


_IN_WORDS = {
    "echo": "an old value that the meter sent by itself",
    "repeat": "the same press sent again",
    "not sure whose": "its meter did not tell its serial number at once, so another may have been "
    "there",
    "other rate": "its samples come at another rate than its profile says",
    "over-range": "above the range of the meter",
    "under-range": "below the range of the meter",
}


def loose_words(reason: object, *, typed: bool = False) -> str:
    """Why a reading is in no place. A value that is no fresh press asks nothing of anybody.

    `typed` says that it was typed by hand, so that nothing is pressed.
    """
    flags = str(reason).split(", ")
    if not all(flag in _IN_WORDS for flag in flags):
        return clean(reason)
    told = ", ".join(_IN_WORDS[flag] for flag in flags)
    if "other rate" in flags:
        return f"{told}. Next: coatbench status says which rate; mend rate_hz in its profile"
    if "not sure whose" in flags:
        return (
            f"{told}. Next: press again (if it always takes so long, a longer within_s in [answer] "
            "of its profile)"
        )
    if "over-range" in flags or "under-range" in flags:
        again = "then type what it shows" if typed else "then press again"
        return f"{told}. Next: look whether the meter lies flat, {again}"
    return f"{told}; nothing is to be done"


def reading_words(item: Mapping[str, Any]) -> str:
    """``82.4 GU at 20°``, or the flag that stands for a missing value."""
    channel = angle(item["channel"])
    if item["value"] is None:
        return f"{flag_words(item['flags']) or 'no value'}{channel}"
    return f"{figure(item['value'])} {symbol(item['unit'])}".rstrip() + channel


def voided_words(reply: Mapping[str, Any]) -> str:
    """Which reading was voided, with its value and place, and what comes of that."""
    number, others = reply["reading_id"], [n for n in reply["readings"] if n != reply["reading_id"]]
    value = reading_words(reply)
    if reply["zone"] is None and reply.get("piece") is None:
        also = f", and with it {', '.join(map(str, others))} of the same press" if others else ""
        return f"reading {number} ({value}) is void{also}; no zone is one-sided by it"
    if reply.get("piece") is not None:
        piece = clean(reply["piece"])
        return f"reading {number} ({value}, piece {piece}) is void; {piece} is read anew in full"
    also = f", and with it {', '.join(map(str, others))} of the same press" if others else ""
    where = place(reply["zone"], reply["replicate"])
    return (
        f"reading {number} ({value}, {where}, {clean(reply['stage'])}) is void{also}; "
        "its place is open again"
    )


def taken_words(last: Mapping[str, Any]) -> str:
    """``82.4 GU at 20°, A2 replicate 3``, or with the piece of a check."""
    value = reading_words({**last, "flags": ""})
    if last["piece"] is not None:
        return f"{value}, piece {clean(last['piece'])}"
    return f"{value}, {place(last['zone'], last['replicate'])}"


def place(zone: object, replicate: object) -> str:
    """``A2 replicate 3``."""
    return f"{clean(zone)} replicate {replicate}"


def hour(utc_ns: int, zone: tzinfo | None) -> str:
    """``08:14:05`` in the time zone given, or in that of this computer."""
    return f"{from_utc_ns(utc_ns).astimezone(zone):%H:%M:%S}"


def duration(seconds: float) -> str:
    """``3 h 12 min``, ``12 min``, ``40 s``: never more than is left."""
    whole = max(0, int(seconds))
    if whole < 60:
        return f"{whole} s"
    hours, minutes = divmod(whole // 60, 60)
    return f"{hours} h {minutes:02d} min" if hours else f"{minutes} min"


def times(count: int, thing: str) -> str:
    """``1 reading``, ``3 readings``."""
    return f"{count} {thing}" if count == 1 else f"{count} {thing}s"


def check_words(instrument: Mapping[str, Any]) -> str:
    """How the check of an instrument stands, from its entry in the status."""
    checking, check = instrument["checking"], instrument["check"]
    if checking is not None:
        if checking["piece"] is None:
            return "check under way: all pieces read"
        taken = min(checking["taken"].values(), default=0)
        return f"check under way: {clean(checking['piece'])}, {taken} of {checking['readings']}"
    if check["valid"]:
        return f"check valid for {duration(check['left_s'] or 0)}{_presses_more(check)}"
    return f"check needed: {clean(check['message'] or check['reason'])}"


def _presses_more(check: Mapping[str, Any]) -> str:
    """That a check lasts some presses only, where it does."""
    left = check.get("presses_left")
    if left is None:
        return ""
    return f" and {left} press{'' if left == 1 else 'es'} more"


def renewal_words(instrument: Mapping[str, Any]) -> list[str]:
    """Certificates behind an instrument's checks that are due soon or overdue, a line each."""
    return [clean(due["words"]) for due in instrument.get("certificates", ())]


def width_words(instrument: Mapping[str, Any]) -> list[str]:
    """Limits of an instrument's policy that hold nothing, or are new to it, a line each."""
    return [
        clean(text) for key in ("too_wide", "limits_changed") for text in instrument.get(key, ())
    ]


def shared_words(instrument: Mapping[str, Any] | None) -> str:
    """That another program reads on an instrument's port; empty where none is known to."""
    text = clean((instrument or {}).get("shared") or "")
    return f"SHARED: {text}" if text else ""


def presses_left(checking: Mapping[str, Any]) -> int:
    """How often the piece of a check under way is still to be read."""
    return max((checking["readings"] - n for n in checking["taken"].values()), default=0)


TAKE_KEY = "t"
"""What asks the meter of a screen for a reading."""


def take_command(instrument: Mapping[str, Any]) -> str:
    """What asks it where nobody presses keys."""
    return f"coatbench take {clean(instrument['id'])}"


def check_step(instrument: Mapping[str, Any], asked_by: str = "") -> str:
    """What to do for the check under way; empty if none is.

    `asked_by` is what asks a meter that can be asked for a reading: the command, or a key.
    """
    checking = instrument["checking"]
    if checking is None or checking["piece"] is None:
        return ""
    return piece_step(
        instrument, clean(checking["piece"]), presses_left(checking), asked_by=asked_by
    )


def piece_step(
    instrument: Mapping[str, Any],
    piece: str,
    presses: int,
    how_to_type: str = "",
    asked_by: str = "",
) -> str:
    """How a piece is read so many times with an instrument of its kind.

    One that can be asked may have no button, which nobody knows: so both are named.
    """
    meter, kind = clean(instrument["id"]), instrument.get("kind", "gloss")
    is_typed = bool(instrument.get("typed"))
    again = "once" if presses == 1 else f"{presses} times"
    if kind == "force":
        place = f"load {meter} with {piece}"
    elif kind == "transmittance":
        place = f"put {piece} into {meter}"
    else:
        place = f"{'put' if is_typed else 'place'} {meter} on {piece}"
    if is_typed:
        return f"{place} and type what it shows, {again}{how_to_type}"
    ask = f"ask it ({asked_by or take_command(instrument)})" if instrument.get("can_take") else ""
    if kind == "force":
        # Some gauges have a button, others tell of every load by themselves.
        told = f"{place} {again}, and press if it has a button"
        return f"{told}, or {ask}" if ask else told
    return f"{place} and press, or {ask}, {again}" if ask else f"{place} and press {again}"


def serial_words(instrument: Mapping[str, Any]) -> str:
    """``serial SH-0417``; of an instrument without a port, that nobody could ask it."""
    declared = " (declared, not read)" if instrument.get("typed") else ""
    return f"serial {clean(instrument['serial'])}{declared}"


def reopened_words(places: Mapping[str, Any], *, checked: bool = True) -> str:
    """How places of a finished run are filled that a failed check has opened again."""
    stage, trial = clean(places["stage"]), clean(places["trial"])
    file = clean(places["source"])
    verb = "place is" if places["readings"] == 1 else "places are"
    check = "" if checked else f"coatbench check {clean(places['instrument'])}, then "
    return (
        f"{places['readings']} {verb} open again of {trial}, {stage}. "
        f"Next: {check}coatbench run {file} {stage} --with {clean(places['instrument'])}"
    )


def resume_step(status: Mapping[str, Any]) -> str:
    """What goes on with the interrupted run: after a check, unless one holds or none is wanted."""
    run = status["interrupted"]
    own = (i["check"]["valid"] for i in status["instruments"] if i["id"] == run["instrument"])
    check = (
        "" if run["unchecked"] or any(own) else f"coatbench check {clean(run['instrument'])}, then "
    )
    return f"{check}coatbench run --resume"


def unclosed_words(stage: Mapping[str, Any]) -> str:
    """That no closing check was made, and that it comes next."""
    trial = clean(stage["trial"])
    verb = "has" if stage["readings"] == 1 else "have"
    return (
        f"{times(stage['readings'], 'reading')} of {trial}, {clean(stage['stage'])} {verb} no "
        f"closing check yet. Next: coatbench check {clean(stage['instrument'])}, then "
        f"coatbench report {trial}"
    )


def outlook_words(status: Mapping[str, Any]) -> list[str]:
    """What is left to do after the runs that are finished."""
    valid = {own["id"] for own in status["instruments"] if own["check"]["valid"]}
    return [
        *(reopened_words(p, checked=p["instrument"] in valid) for p in status.get("reopened", ())),
        *map(unclosed_words, status.get("unclosed", ())),
    ]


def four_parts(what: str, got: str, wanted: str, next_step: str) -> list[tuple[str, str]]:
    """The parts of a fault that are there, each with its heading."""
    parts = [("", what), ("got", got), ("wanted", wanted), ("next", next_step)]
    return [(heading, text) for heading, text in parts if text]
