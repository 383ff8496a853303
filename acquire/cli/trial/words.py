"""What is said of a blind trial in lines, on a terminal. Pure."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import tzinfo
from typing import TYPE_CHECKING

from acquire.trial.people import shown_name

if TYPE_CHECKING:
    from acquire.trial.blinding import Blinding, Told


def blinding_lines(blinding: Blinding | None, zone: tzinfo | None = None) -> Iterator[str]:
    """A line of how it stands, one for each person who was told, and what was read after that."""
    if blinding is None:
        return
    if blinding.sealed_utc_ns is None:
        yield "BLIND   treatments are codes; this store has no key that would tell them"
        return
    if blinding.unsealed is None:
        yield "BLIND   treatments are codes; the key is sealed"
    else:
        yield f"OPEN    unsealed {_by(blinding.unsealed, zone)}"
    for told in blinding.shown:
        yield f"        the key was shown to {_to(told, zone)}"


def _by(told: Told, zone: tzinfo | None) -> str:
    return f"by {shown_name(told.who)}, {_when(told, zone)}{_why(told)}; {_after(told)}"


def _to(told: Told, zone: tzinfo | None) -> str:
    return f"{shown_name(told.who)}, {_when(told, zone)}{_why(told)}; {_after(told)}"


def _when(told: Told, zone: tzinfo | None) -> str:
    from acquire.model import from_utc_ns  # noqa: PLC0415 - slow

    return f"{from_utc_ns(told.at_utc_ns).astimezone(zone):%Y-%m-%d %H:%M}"


def _why(told: Told) -> str:
    return f" ({told.why})" if told.why else ""


def _after(told: Told) -> str:
    """What was taken after it."""
    if not told.readings_after and not told.ratings_after:
        return "nothing was read or rated after that"
    parts = [
        f"{count} {what}{'' if count == 1 else 's'}"
        for count, what in ((told.readings_after, "reading"), (told.ratings_after, "rating"))
        if count
    ]
    total = told.readings_after + told.ratings_after
    return f"{' and '.join(parts)} {'was' if total == 1 else 'were'} taken after that"
