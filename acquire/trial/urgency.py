"""A thing that is due, in words and with its command, and how much it presses. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum


class Urgency(IntEnum):
    """What comes first: what loses worth by waiting, then what others wait for."""

    RUN_OPEN = 1
    OVERDUE = 2
    SUSPECT = 3
    CLOSING = 4
    CHECKPOINT = 5
    CURED = 6
    MEASURE = 7
    RATE = 8
    GONE = 9
    APPLY = 10
    WASH = 11
    SOON = 12
    WAITING = 13
    DONE = 14


@dataclass(frozen=True, slots=True)
class Due:
    """One thing that is due: `what` in words, `command` to type; `trial` empty for the bench."""

    urgency: Urgency
    trial: str
    what: str
    command: str = ""
