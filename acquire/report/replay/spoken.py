"""When the host spoke that day, by the tape, and when it is sure that it did not. Pure."""

from __future__ import annotations

from acquire.link.tape import SENT, Passed, Tape
from acquire.model import Instant

_LATE_NS = 50_000_000
"""A session wakes later than it was to, mostly by less: what it sent so soon after shows when."""


class Spoken:
    """Of one tape, as it goes on. `has_spoken` is set once something was sent on it.

    A stretch may begin with an answer to what was sent before it.
    """

    def __init__(self, tape: Tape) -> None:
        self._ended = tape.ended
        self._missing = tape.missing
        self.has_spoken = not tape.received_before

    def was_silent(self, at: Instant, following: Passed | None) -> bool:
        """Whether the tape is sure that nothing was sent from a moment on to what follows.

        `following` None: what follows is its end.
        """
        ended = self._ended
        until = following.at if following else ended and ended.at
        if until is None or until.mono_ns <= at.mono_ns or not self.has_spoken:
            return False
        if ended is not None and ended.at.mono_ns - at.mono_ns < _LATE_NS:
            # What a lost link no longer took is not on the tape.
            return False
        return not any(
            gap.since_utc_ns <= until.utc_ns and at.utc_ns <= gap.until_utc_ns
            for gap in self._missing
        )


def speaks_soon(following: Passed | None, at: Instant) -> bool:
    """Whether what follows on the tape is what a session sent when it woke at this moment."""
    return (
        following is not None
        and following.direction == SENT
        and following.at.mono_ns - at.mono_ns < _LATE_NS
    )
