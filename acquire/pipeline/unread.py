"""Messages of an instrument that were noise, one after the other: its profile may not fit it. Pure.

A meter that writes what no press of a lesson had (another day, another width) makes noise of every
press from then on, and each alone looks like a disturbed line.
"""

from __future__ import annotations

from dataclasses import dataclass

LEAST = 5
"""So many in a row are told."""
_APART_NS = 500_000_000
"""Nobody presses faster: what comes sooner is of the same message."""


@dataclass(slots=True)
class Unread:
    """How many there were since the last reading."""

    count: int = 0
    last_ns: int = -_APART_NS

    def heard(self) -> None:
        """A message was understood."""
        self.count = 0

    def noise(self, at_ns: int) -> bool:
        """Noise at a moment of the monotonic clock; whether it is to be told now."""
        is_new = at_ns - self.last_ns >= _APART_NS
        self.last_ns = at_ns
        self.count += is_new
        return is_new and self.count == LEAST

    def words(self, instrument: str) -> str:
        """In plain words with the next step; empty while there are few."""
        if self.count < LEAST:
            return ""
        return (
            f"the last {self.count} messages of {instrument} were noise, and none was read: its "
            "profile may have another speed or format of the line ([line]) or another layout, or "
            "its line is disturbed. Next: coatbench watch shows what came and why it was not read; "
            "if the profile was learned, learn it again with more presses"
        )
