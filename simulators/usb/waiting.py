"""How a simulated bus lets time pass: a seam, so that a timeout need not be sat out.

Any thread.
"""

from __future__ import annotations

import threading
import time
from typing import Protocol

STEP_S = 0.01
"""A device that only needs time is looked at again after this long, if nothing else is said."""


class Waiting(Protocol):
    """The time of a bus, and how it is waited for."""

    def now_s(self) -> float:
        """The bus's own time, from any start."""
        ...

    def wait(self, changed: threading.Condition, timeout_s: float) -> None:
        """With the condition held: until it is notified, or the time is over."""
        ...


class RealWaiting:
    """The computer's time."""

    def now_s(self) -> float:
        return time.monotonic()

    def wait(self, changed: threading.Condition, timeout_s: float) -> None:
        changed.wait(timeout_s)


class HurriedWaiting:
    """Whoever waits finds at once that the time is over. For a test of one thread."""

    def __init__(self) -> None:
        self._now_s = 0.0

    def now_s(self) -> float:
        return self._now_s

    def wait(self, changed: threading.Condition, timeout_s: float) -> None:  # noqa: ARG002
        self._now_s += timeout_s
