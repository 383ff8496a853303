"""The one place that asks for the time.

Every fact carries both clocks: UTC, for people and for certificates' due dates, and the
monotonic clock, for durations, which a corrected or daylight-shifted wall clock cannot bend.
Tests pass a `ManualClock` and move it by hand; nothing sleeps to make time go by.
"""

from __future__ import annotations

import time
from datetime import UTC, datetime
from typing import Protocol

from acquire.model import Instant


class Clock(Protocol):
    """Where the time comes from; passed to whoever needs it."""

    def now(self) -> Instant:
        """The present instant on both clocks."""
        ...


class SystemClock:
    """The computer's clocks."""

    def now(self) -> Instant:
        return Instant(time.time_ns(), time.monotonic_ns())


class ManualClock:
    """A clock that stands still until it is moved: a real clock for tests and replays.

    One thread moves it; any may look, and sees both clocks of one moment: seen between the moves
    of the two, a clock would seem to have jumped.
    """

    def __init__(self, utc: datetime | None = None) -> None:
        start = utc or datetime(2026, 5, 4, 8, 0, tzinfo=UTC)
        self._now = Instant(round(start.timestamp()) * 1_000_000_000, 1_000_000_000)

    def now(self) -> Instant:
        return self._now

    def advance(self, seconds: float) -> Instant:
        """Let time go by on both clocks."""
        step_ns = round(seconds * 1e9)
        self._now = Instant(self._now.utc_ns + step_ns, self._now.mono_ns + step_ns)
        return self._now

    def stand_at(self, at: Instant) -> None:
        """Stand at a moment that was, as both clocks showed it then."""
        self._now = at

    def jump(self, seconds: float) -> Instant:
        """Move the wall clock alone, as a wrong time service or a person does."""
        self._now = Instant(self._now.utc_ns + round(seconds * 1e9), self._now.mono_ns)
        return self._now
