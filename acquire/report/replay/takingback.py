"""A driver whose last call can be taken back, for a play that learns later when it was asked.

A driver is a pure machine: the same calls give the same state. So a copy of it is kept now and
then, and the calls since; taking one back makes them again but for the last. Stores nothing. One
thread.
"""

from __future__ import annotations

from copy import deepcopy
from typing import Any

from acquire.driverapi import Driver, Due
from acquire.model import Fact, Instant

_COPIED_AFTER = 512
"""A copy costs as much as some dozen calls, and so many are made again at most."""
_COPIED_AFTER_BYTES = 16_384
"""What was fed since is kept as well."""


class TakingBack:
    """Implements `acquire.driverapi.Driver` by another one, which nobody else may use."""

    def __init__(self, driver: Driver) -> None:
        self._driver = driver
        self._kept = _copy(driver)
        self._since: list[tuple[str, tuple[Any, ...]]] = []
        self._since_bytes = 0

    def opening(self, at: Instant) -> bytes:
        """See `Driver`."""
        self._note("opening", at)
        return self._driver.opening(at)

    def feed(self, data: bytes, at: Instant) -> list[Fact]:
        """See `Driver`."""
        self._note("feed", data, at)
        self._since_bytes += len(data)
        return self._driver.feed(data, at)

    def due(self, now: Instant) -> Due:
        """See `Driver`."""
        self._note("due", now)
        return self._driver.due(now)

    def take(self, at: Instant) -> bytes:
        """See `Driver`."""
        self._note("take", at)
        return self._driver.take(at)

    def lost(self, at: Instant) -> list[Fact]:
        """See `Driver`."""
        self._note("lost", at)
        return self._driver.lost(at)

    def take_back(self) -> bool:
        """Be as before the last call; False where the driver cannot be copied, or none was made."""
        if self._kept is None or not self._since:
            return False
        again = self._since[:-1]
        self._driver = self._kept
        for call, given in again:
            getattr(self._driver, call)(*given)
        self._keep()
        return True

    def _note(self, call: str, *given: object) -> None:
        if self._kept is None:
            return
        if len(self._since) >= _COPIED_AFTER or self._since_bytes >= _COPIED_AFTER_BYTES:
            self._keep()
        self._since.append((call, given))

    def _keep(self) -> None:
        self._kept = _copy(self._driver)
        self._since.clear()
        self._since_bytes = 0


def _copy(driver: Driver) -> Driver | None:
    """None where a stranger's driver has something in it that cannot be copied."""
    try:
        return deepcopy(driver)
    except Exception:
        return None
