"""What one line of a tape file says, made into what a tape holds.

Of what no tape says ValueError, KeyError or TypeError is raised, with what is wrong. Pure.
"""

from __future__ import annotations

from typing import Any

from acquire.link.tape import RECEIVED, SENT, Ended, Made, Passed, Tape, Whose
from acquire.model import Instant

HOLDS = (RECEIVED, SENT, "made")
"""What the head counts."""
_HIGHEST = 2**63 - 1
_SAYS = {
    "reading": {"value", "unit", "channel", "press", "flags", "text"},
    "noise": {"reason"},
    "notice": {"kind", "text"},
    "spectrum": {"values", "type", "unit"},
    "samples": {"counts", "first", "unit", "step", "rate_hz"},
}
"""The least that each kind of fact says."""


def head_of(entry: dict[str, Any]) -> tuple[Tape, dict[str, int]]:
    whose = entry["whose"]
    words = None if whose is None else Whose(**_texts(whose))
    holds = {name: whole(entry["holds"][name]) for name in HOLDS}
    opened = Instant(*pair(entry["opened"]))
    where, before = _text(entry["where"]), whole(entry["before"])
    line = _text(entry.get("line", ""))
    return Tape(opened, where, (), whose=words, received_before=before, line=line), holds


def passed_of(entry: dict[str, Any]) -> Passed:
    (direction,) = {RECEIVED, SENT} & set(entry)
    data = _text(entry[direction]).encode("latin-1")
    return Passed(direction, whole(entry["offset"]), Instant(*pair(entry["at"])), data)


def made_of(entry: dict[str, Any]) -> Made:
    start, end = pair(entry["bytes"])
    what, says = _text(entry["made"]), _texts(entry["says"])
    if lacking := _SAYS[what] - says.keys():
        raise ValueError(f"a {what} without {', '.join(sorted(lacking))}")
    if what == "samples":
        whole(int(says["first"]))
        if len(bytes.fromhex(says["counts"])) % 4:
            raise ValueError("samples that are no counts of four bytes")
    number = whole(entry["number"])
    return Made(what, start, end, whole(entry["at"]), tuple(says.items()), number)


def ended_of(entry: dict[str, Any], line: int) -> Ended | None:
    if entry["end"] != line:
        raise ValueError(f"{entry['end']!r} lines at line {line}")
    ended = entry["ended"]
    if ended is None:
        return None
    return Ended(Instant(*pair(ended["at"])), _text(ended["message"]), ended["cut"] is True)


def pair(value: Any) -> tuple[int, int]:
    first, second = value
    return whole(first), whole(second)


def whole(value: Any) -> int:
    if type(value) is not int or not 0 <= value <= _HIGHEST:
        raise ValueError(f"{value!r} where a whole number belongs"[:80])
    return value


def _texts(value: Any) -> dict[str, str]:
    if not isinstance(value, dict):
        raise ValueError(f"{value!r} where names and texts belong"[:80])
    return {name: _text(text) for name, text in value.items()}


def _text(value: Any) -> str:
    if type(value) is not str:
        raise ValueError(f"{value!r} where a text belongs"[:80])
    return value


def told_briefly(error: Exception) -> str:
    """What was wrong, without end."""
    return f"{type(error).__name__}: {error}"[:120]
