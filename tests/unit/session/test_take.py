"""A reading that is asked for while the driver cannot ask for it yet is asked for when it can."""

from __future__ import annotations

from acquire.driverapi import Due
from acquire.model import Fact, Instant
from tests.patience import PATIENCE_S
from tests.unit.session.test_life import Start, running

__all__ = ["running"]


class Later:
    """A driver whose line must be silent for a moment before it may send what takes a reading."""

    def __init__(self) -> None:
        self._is_open = False
        self._looks_until_free = 0

    def opening(self, at: Instant) -> bytes:
        self._is_open = True
        return b"S\r"

    def feed(self, data: bytes, at: Instant) -> list[Fact]:
        return []

    def due(self, now: Instant) -> Due:
        if not self._looks_until_free:
            return Due(b"", None)
        self._looks_until_free -= 1
        return Due(b"", now) if self._looks_until_free else Due(b"M\r", None)

    def take(self, at: Instant) -> bytes:
        if not self._is_open:
            return b"M\r"
        self._looks_until_free = 2
        return b""

    def lost(self, at: Instant) -> list[Fact]:
        return []


def test_a_take_that_has_to_wait_is_sent_when_its_driver_says(running: Start) -> None:
    bench = running(Later)
    device = bench.opener.plug()
    bench.session.wake()
    bench.next(lambda b: b.connected)
    assert device.read(PATIENCE_S) == b"S\r"
    assert bench.session.take() is True
    assert device.read(PATIENCE_S) == b"M\r"
