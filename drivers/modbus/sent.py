"""The request under way, and what it is for. Pure data."""

from __future__ import annotations

from enum import Enum
from typing import NamedTuple

from acquire.model import Instant
from drivers.modbus.request import Request


class Purpose(Enum):
    """What a request is for."""

    IDENTITY = "its serial number"
    BLOCK = "its registers"
    TAKE = "a reading"


class Sent(NamedTuple):
    """The request under way. `polled_before` is when the next poll was due before it was sent."""

    purpose: Purpose
    request: Request
    at: Instant
    polled_before: Instant | None
    was_reading: bool
    is_opening: bool
