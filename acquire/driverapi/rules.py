"""The rules a driver is held to, in plain words, and what was found against one. Pure data."""

from __future__ import annotations

from enum import StrEnum
from typing import NamedTuple


class Rule(StrEnum):
    """What every driver keeps. Told in this order."""

    INTERFACE = "it fits the interface, takes its profile and leaves it as it is"
    CAPTURES = "captures mean what they say"
    BYTES = "any bytes in any chunks: the same facts, and no exception"
    ORDER = "facts are whole and cover the stream in order"
    UNITS = "declared units are known"
    APART = "two drivers share nothing"
    LOST = "lost gives out what was waiting, and forgets it"
    ASKING = "due goes forward in time and does not flood the line"
    RATES = "declared rates are held"
    MEMORY = "memory stays bounded, however much comes"


LOOKED_AT_LAST = frozenset({Rule.INTERFACE, Rule.APART})
"""What else may have changed behind a driver's back is seen when all else is done with it."""


class Finding(NamedTuple):
    """A rule broken, and how it showed."""

    rule: Rule
    what: str
