"""When certificates run out: soon, today, long since. Pure; any thread."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from enum import StrEnum
from typing import NamedTuple

from acquire.model import Certificate, channel_labels


class DueState(StrEnum):
    """How a certificate stands on a day."""

    VALID = "valid"
    DUE_SOON = "due soon"
    OVERDUE = "overdue"
    NOT_YET = "not valid yet"


class Due(NamedTuple):
    """How certificates of one piece stand that end on one day.

    `channels` are those of the certificates; `days_left` is 0 on the last day, negative after it.
    """

    piece: str
    channels: tuple[str, ...]
    due: date
    days_left: int
    state: DueState

    @property
    def words(self) -> str:
        """Short words for a screen; empty where there is nothing to tell."""
        at = channel_labels(self.channels)
        whose = f"certificate of {self.piece}{f' at {at}' if at else ''}"
        if self.state is DueState.OVERDUE:
            return f"{whose} OVERDUE since {self.due}"
        if self.state is DueState.NOT_YET:
            return f"{whose} not valid yet"
        if self.state is DueState.DUE_SOON:
            return f"{whose} due soon: {days_words(self.days_left)}, {self.due}"
        return ""


def days_words(days_left: int) -> str:
    """``its last day``, ``1 day left``, ``12 days left``."""
    return "its last day" if days_left == 0 else f"{days(days_left)} left"


def days(count: int) -> str:
    """``1 day``, ``12 days``, whatever the sign."""
    return f"{abs(count)} day" if abs(count) == 1 else f"{abs(count)} days"


def due_of(certificate: Certificate, today: date, soon_days: int) -> Due:
    """How a certificate stands on a day (UTC, as the gate goes by)."""
    left = (certificate.due - today).days
    if left < 0:
        state = DueState.OVERDUE
    elif today < certificate.issued:
        state = DueState.NOT_YET
    else:
        state = DueState.DUE_SOON if left <= soon_days else DueState.VALID
    return Due(certificate.piece, (certificate.channel,), certificate.due, left, state)


def to_renew(certificates: Iterable[Certificate], today: date, soon_days: int) -> list[Due]:
    """Those of which there is something to tell, the most urgent first, piece by piece."""
    found: dict[tuple[str, date, DueState], Due] = {}
    for certificate in certificates:
        due = due_of(certificate, today, soon_days)
        if due.state is not DueState.VALID:
            key = (due.piece, due.due, due.state)
            earlier = found[key].channels if key in found else ()
            channels = tuple(dict.fromkeys((*earlier, *due.channels)))
            found[key] = due._replace(channels=channels)
    return sorted(found.values(), key=lambda due: (due.due, due.piece))
