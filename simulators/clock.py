"""The time of a simulated device: the computer's, or one that stands until a hand moves it.

A bench whose clock is in a test's hand has devices that go by the same clock. Otherwise what a
device sends in a second would be judged by another second. Moved by one thread, read by any.
"""

from __future__ import annotations

import time
from typing import Protocol


class DeviceClock(Protocol):
    """A clock that never goes back, from any start."""

    def now_ns(self) -> int:
        """The present moment in nanoseconds."""
        ...

    def now_s(self) -> float:
        """The present moment in seconds."""
        ...


class ComputerClock:
    """The computer's own."""

    def now_ns(self) -> int:
        return time.monotonic_ns()

    def now_s(self) -> float:
        return time.monotonic()


class HeldClock:
    """Stands at a moment until it is moved."""

    def __init__(self, at_s: float) -> None:
        self._now_ns = round(at_s * 1e9)

    def now_ns(self) -> int:
        return self._now_ns

    def now_s(self) -> float:
        return self._now_ns / 1e9

    def move(self, to_s: float) -> None:
        """Stand at a later moment; an earlier one moves nothing."""
        self._now_ns = max(self._now_ns, round(to_s * 1e9))


COMPUTER = ComputerClock()
