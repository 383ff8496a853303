"""When something happened, on both clocks of the bench."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import NamedTuple


class Instant(NamedTuple):
    """One moment: nanoseconds of UTC since 1970 and nanoseconds of the monotonic clock.

    Only `utc_ns` means anything on another computer or after a restart; only `mono_ns` may be
    subtracted to get a duration within one process.
    """

    utc_ns: int
    mono_ns: int

    def utc(self) -> datetime:
        """The wall-clock moment, to the microsecond."""
        return from_utc_ns(self.utc_ns)

    def seconds_since(self, earlier: Instant) -> float:
        """Seconds between two moments of the same process, by the monotonic clock."""
        return (self.mono_ns - earlier.mono_ns) / 1e9

    def later(self, seconds: float) -> Instant:
        """The moment so many seconds on, by both clocks."""
        step_ns = round(seconds * 1e9)
        return Instant(self.utc_ns + step_ns, self.mono_ns + step_ns)


def from_utc_ns(utc_ns: int) -> datetime:
    """A stored moment as a datetime in UTC, to the microsecond."""
    seconds, rest_ns = divmod(utc_ns, 1_000_000_000)
    return datetime.fromtimestamp(seconds, UTC).replace(microsecond=rest_ns // 1000)


def iso_utc(utc_ns: int) -> str:
    """A stored moment as text: ISO 8601, UTC, milliseconds, ``2026-05-04T08:00:00.000Z``."""
    return from_utc_ns(utc_ns).strftime("%Y-%m-%dT%H:%M:%S.") + f"{utc_ns // 1_000_000 % 1000:03d}Z"
