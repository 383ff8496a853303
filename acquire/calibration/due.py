"""When certificates run out: soon, today, long since. Pure; any thread."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from enum import StrEnum
from typing import NamedTuple

from acquire.model import Certificate, at_channel


class DueState(StrEnum):
    """How a certificate stands on a day."""

    VALID = "valid"
    DUE_SOON = "due soon"
    OVERDUE = "overdue"
    NOT_YET = "not valid yet"


class Due(NamedTuple):
    """One certificate and how it stands; `days_left` is 0 on its last day, negative after it."""

    piece: str
    channel: str
    due: date
    days_left: int
    state: DueState

    @property
    def words(self) -> str:
        """Short words for a screen; empty where there is nothing to tell."""
        whose = f"certificate of {self.piece}{at_channel(self.channel)}"
        if self.state is DueState.OVERDUE:
            return f"{whose} OVERDUE since {self.due}"
        if self.state is DueState.NOT_YET:
            return f"{whose} not valid yet"
        if self.state is DueState.DUE_SOON:
            return f"{whose} due soon: {days_words(self.days_left)}, {self.due}"
        return ""


def days_words(days_left: int) -> str:
    """``its last day``, ``1 day left``, ``12 days left``, ``3 days over``."""
    if days_left == 0:
        return "its last day"
    count, tail = abs(days_left), "left" if days_left > 0 else "over"
    return f"{count} {'day' if count == 1 else 'days'} {tail}"


def due_of(certificate: Certificate, today: date, soon_days: int) -> Due:
    """How a certificate stands on a day (UTC, as the gate goes by)."""
    left = (certificate.due - today).days
    if left < 0:
        state = DueState.OVERDUE
    elif today < certificate.issued:
        state = DueState.NOT_YET
    else:
        state = DueState.DUE_SOON if left <= soon_days else DueState.VALID
    return Due(certificate.piece, certificate.channel, certificate.due, left, state)


def to_renew(certificates: Iterable[Certificate], today: date, soon_days: int) -> list[Due]:
    """Those of which there is something to tell, the most urgent first."""
    found = (due_of(c, today, soon_days) for c in certificates)
    told = [due for due in found if due.state is not DueState.VALID]
    return sorted(told, key=lambda due: (due.due, due.piece, due.channel))
