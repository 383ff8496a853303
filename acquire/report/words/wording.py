"""How moments, counts and lists are said in a report. English, UTC, no locale. Pure; any thread."""

from __future__ import annotations

import re
from collections.abc import Sequence

from acquire.model import from_utc_ns

_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip


def day(utc_ns: int) -> str:
    """``4 May 2026``: strftime would ask the locale for the month."""
    at = from_utc_ns(utc_ns)
    return f"{at.day} {_MONTHS[at.month - 1]} {at.year}"


def moment(utc_ns: int) -> str:
    """``2026-05-04 08:00:12``, UTC, for tables."""
    return from_utc_ns(utc_ns).strftime("%Y-%m-%d %H:%M:%S")


def said_moment(utc_ns: int) -> str:
    """``4 May 2026, 08:00:12 UTC``, for sentences."""
    return f"{day(utc_ns)}, {from_utc_ns(utc_ns):%H:%M:%S} UTC"


def span(since_ns: int, until_ns: int) -> str:
    """From one moment to another, to the minute."""
    first, last = from_utc_ns(since_ns), from_utc_ns(until_ns)
    if first.replace(second=0, microsecond=0) == last.replace(second=0, microsecond=0):
        return f"{day(since_ns)}, {first:%H:%M} UTC"
    if first.date() == last.date():
        return f"{day(since_ns)}, {first:%H:%M} to {last:%H:%M} UTC"
    return f"{day(since_ns)}, {first:%H:%M} to {day(until_ns)}, {last:%H:%M} UTC"


def counted(number: int, noun: str, plural: str = "") -> str:
    """``1 reading``, ``3 readings``, ``no reading``."""
    if number == 0:
        return f"no {noun}"
    return f"{number} {noun if number == 1 else plural or noun + 's'}"


def listed(names: Sequence[str], most: int = 8) -> str:
    """``a, b and c``; beyond `most` the rest as a number."""
    if len(names) > most:
        shown = ", ".join(names[: most - 1])
        return f"{shown} and {len(names) - most + 1} more"
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"


def numbered(ids: Sequence[int]) -> str:
    """Reading numbers, runs of neighbours joined: ``41, 43–46``."""
    parts: list[list[int]] = []
    for one in sorted(ids):
        if parts and one == parts[-1][-1] + 1:
            parts[-1].append(one)
        else:
            parts.append([one])
    return ", ".join(
        str(p[0]) if len(p) == 1 else f"{p[0]}{'–' if len(p) > 2 else ', '}{p[-1]}" for p in parts
    )


def limits_words(of: int | None) -> str:
    """Which limits a check found the meter outside of: its own, or those of an earlier check."""
    return "its limit" if of is None else f"the limits that check {of} was held to"


def without_words(check_id: int) -> str:
    """Why a check that was judged anew opens or closes nothing."""
    return f"check {check_id} does not pass without a certificate that was withdrawn"


def reason_alone(text: str) -> str:
    """What happened, without the next step: that was for the person at the bench, then."""
    return re.split(r"[.;:,]?\s+Next: ", text, maxsplit=1)[0]


def tied(text: str) -> str:
    """The text with figures and their units kept on one line."""
    return re.sub(r"(?<=\d) (?=(?:GU|N|%|°)(?:\W|$))", "\u00a0", text)
