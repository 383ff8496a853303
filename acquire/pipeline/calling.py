"""Calling a driver, which is somebody else's code: whatever it raises is caught and can be told.

Also known from here, to any thread, is which call a driver has not come back from, and since when.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple, TypeVar

from acquire.clock import Clock
from acquire.errors import told
from acquire.model import Instant

T = TypeVar("T")


class DriverFailed(Exception):
    """A driver raised, or gave what no driver may give. `data` is what it was fed."""

    def __init__(self, error: BaseException, data: bytes = b"") -> None:
        super().__init__(told(error))
        self.error = error
        self.data = data


class Inside(NamedTuple):
    """A call that a driver has not yet come back from."""

    call: str
    since: Instant


class Caller:
    """Calls the driver of one session. One thread calls; `inside` is for any thread."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self.inside: Inside | None = None

    def __call__(self, name: str, call: Callable[[], T], data: bytes = b"") -> T:
        """The result of a call. Raises `DriverFailed` whatever it raises."""
        self.inside = Inside(name, self._clock.now())
        try:
            return call()
        except BaseException as error:  # SystemExit and KeyboardInterrupt of a stranger, too
            raise DriverFailed(error, data) from error
        finally:
            self.inside = None
