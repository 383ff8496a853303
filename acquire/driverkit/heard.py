"""What one frame of a device says, whatever its wire protocol. Pure."""

from __future__ import annotations

from decimal import Decimal
from enum import StrEnum
from typing import NamedTuple

from acquire.model import Flag

NO_FLAGS: frozenset[Flag] = frozenset()


class Means(StrEnum):
    """What a frame can be."""

    READING = "reading"
    SAMPLE = "sample"
    """One of many values at a steady rate."""
    STROKE = "stroke"
    """A counter tells of one stroke, without a number."""
    IDENTITY = "identity"
    POWER_UP = "power-up"
    ADJUSTED = "adjusted"
    TROUBLE = "trouble"
    NOTHING = "nothing"
    """The device has no result: kept on the tape, and no fact."""


class Heard(NamedTuple):
    """A frame understood. `text` is the value as sent, the serial number or the trouble's code.

    `unit` and `channel` are already in our own words; `press` is the device's count of presses.
    """

    means: Means
    text: str
    value: Decimal | None
    unit: str
    channel: str
    press: int | None
    flags: frozenset[Flag]
