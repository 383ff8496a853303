"""What came of what passed on the pipes of a device. Pure data."""

from __future__ import annotations

from enum import Enum, auto
from typing import NamedTuple


class What(Enum):
    """What came of what passed."""

    OPENED = auto()
    ANSWER = auto()
    """`data` is the whole answer to what was asked."""
    STATUS = auto()
    """`data` is the status byte that was asked for."""
    SERVICE = auto()
    """The device requests service."""
    FAILED = auto()
    """What was asked will not be answered; `why` says why. Has no bytes."""
    DUMB = auto()
    """Not even a clear was answered; `why` says why. Has no bytes."""
    REFUSED = auto()
    """A message did not go out; `why`."""
    NOISE = auto()
    """Bytes that are nothing of the class, or nothing that was asked for; `why`."""


class Event(NamedTuple):
    """`raw` are the records it was made from, from `start` to `end` of the received stream."""

    what: What
    data: bytes
    raw: bytes
    start: int
    end: int
    why: str = ""
