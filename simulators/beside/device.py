"""Devices beside the bench, without a port: a counter of strokes and a climate probe. Pure.

counter = StrokeCounter("HB-0042")
counter.stroke()
counter.receive(b"I?\\r\\n")
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable
from functools import reduce
from operator import xor

from simulators.gloss.wire import Commands

WRAPS = 9999
MOST_TOTAL = 999_999


class BesideDevice(ABC):
    """Power, and that a device without it does nothing."""

    layout: str
    end: bytes
    flip = 0x80
    cut: Callable[[bytes], Iterable[bytes]] | None = None
    least_gap_s = 0.0

    def __init__(self, serial: str) -> None:
        self._serial = serial
        self.powered = True
        self._commands = Commands(self.end)

    @property
    def serial(self) -> str:
        """What it calls itself."""
        return self._serial

    def power(self, on: bool) -> bytes:
        """Switch; to switch on what is on does nothing."""
        if on == self.powered:
            return b""
        self.powered = on
        self._commands.forget()
        return self._start() if on else b""

    def receive(self, data: bytes) -> bytes:
        """Bytes from the host."""
        if not self.powered:
            return b""
        return b"".join(self._answer(command) for command in self._commands.feed(data))

    def _start(self) -> bytes:
        return b""

    @abstractmethod
    def _answer(self, command: bytes) -> bytes: ...


class Counter(BesideDevice):
    """What counters share: `total` outlives the power, `number` counts since power-on."""

    def __init__(self, serial: str) -> None:
        super().__init__(serial)
        self.total = 0
        self.number = 0

    def power(self, on: bool) -> bytes:
        """Switch; its number begins anew."""
        if on != self.powered:
            self.number = 0
        return super().power(on)

    def stroke(self) -> bytes:
        """One stroke; without power nobody counts it."""
        if not self.powered:
            return b""
        self.total += 1
        self.number += 1
        return self._tell()

    def _tell(self) -> bytes:
        return b""


class StrokeCounter(Counter):
    """Layout `strokes`: a numbered line at every stroke."""

    layout = "strokes"
    end = b"\r\n"
    flip = 0x01

    def _start(self) -> bytes:
        return checked(f"B,{self.serial}")

    def _answer(self, command: bytes) -> bytes:
        return checked(f"I,{self.serial}") if command == b"I?" else b""

    def _tell(self) -> bytes:
        return checked(f"S{(self.number - 1) % WRAPS + 1:04d}")


class TotalCounter(Counter):
    """Layout `total`: tells its running count when it is asked."""

    layout = "total"
    end = b"\r"

    def _answer(self, command: bytes) -> bytes:
        if command == b"C?":
            return f"C{self.total % (MOST_TOTAL + 1):06d}\r".encode()
        return f"S {self.serial}\r".encode() if command == b"S?" else b""


class ClimateProbe(BesideDevice):
    """Layout `climate`: tells temperature and humidity when it is asked."""

    layout = "climate"
    end = b"\r\n"
    flip = 0x01

    def __init__(self, serial: str) -> None:
        super().__init__(serial)
        self.temperature_c = 21.4
        self.humidity_percent = 48.2

    def _answer(self, command: bytes) -> bytes:
        if command == b"T?":
            return summed(f"T={self.temperature_c:+05.1f} RH={self.humidity_percent:05.1f}")
        return summed(f"ID {self.serial}") if command == b"ID?" else b""


def checked(body: str) -> bytes:
    """A body with the exclusive or of its bytes and its terminator."""
    data = body.encode("ascii")
    return data + b"*%02X" % reduce(xor, data, 0) + b"\r\n"


def summed(body: str) -> bytes:
    """A body with the sum of its bytes and its terminator."""
    data = body.encode("ascii")
    return data + b";%02X" % (sum(data) % 256) + b"\r\n"
