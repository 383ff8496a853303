"""A gloss meter of three geometries in one marked frame with a CRC; physics of `simulators.gloss`.

A5 5A  length  kind  body  CRC-16/MODBUS, low byte first
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from simulators.checks import crc16_modbus
from simulators.frames.commands import ExactCommands
from simulators.gloss.device import GlossDevice
from simulators.gloss.meter import Meter, Press
from simulators.gloss.surface import ANGLES

START = b"\xa5\x5a"
WHO = bytes.fromhex("A5 5A 01 3F 40 30")
SERIAL_BYTES = 8

LAMP, UNSETTLED, LIFTED = 0x01, 0x02, 0x04
ABSENT = {20: 0x10, 60: 0x20, 85: 0x40}
ABOVE, BELOW = b"\x7f\xff", b"\x80\x00"
BOTTOM_TENTHS = -100
"""The page says what is sent below the range, and not where that is."""

NOTHING_UNDER_IT = 0x02
"""The code of a press on nothing. The page leaves codes to the meter."""


@dataclass(frozen=True)
class Mishap:
    """What befell a press while it measured."""

    unsettled: bool = False
    lifted: bool = False


def frame(kind: bytes, body: bytes) -> bytes:
    """A whole frame."""
    covered = bytes([1 + len(body)]) + kind + body
    return START + covered + struct.pack("<H", crc16_modbus(covered))


def cut(data: bytes) -> Iterable[bytes]:
    """The frames that stand one behind the other."""
    while data:
        length = data[2] + 5
        yield data[:length]
        data = data[length:]


class FrameGloss(GlossDevice):
    """Layout `gloss`. It measures the geometries of `measured`, all by default."""

    layout = "gloss"
    end = b""
    flip = 0x01
    cut: Callable[[bytes], Iterable[bytes]] | None = staticmethod(cut)
    least_gap_s = 0.0

    def __init__(self, meter: Meter, *, memory: bool = False) -> None:
        super().__init__(meter)
        self.memory = memory
        self.mishap = Mishap()
        self._host = ExactCommands(WHO)
        self._last_result = b""

    @property
    def measured(self) -> Sequence[int]:
        return self.meter.angles

    @measured.setter
    def measured(self, angles: Sequence[int]) -> None:
        self.meter.angles = tuple(angle for angle in ANGLES if angle in angles)

    def receive(self, data: bytes) -> bytes:
        """Bytes from the host."""
        if not self.powered:
            return b""
        return b"".join(self._answer(command) for command in self._host.feed(data))

    def _start(self) -> bytes:
        self._host.forget()
        started = frame(b"B", self._named())
        return started + self._last_result if self.memory else started

    def _tell(self, press: Press) -> bytes:
        count = struct.pack(">H", press.count & 0xFFFF)
        if press.code == "LIFT":
            return frame(b"E", count + bytes([NOTHING_UNDER_IT]))
        failed = LAMP if press.code else LIFTED if self.mishap.lifted else 0
        if failed:
            return frame(b"R", count + bytes([failed]) + bytes(6))
        shown = {one.angle: one.tenths for one in press.shown}
        status = UNSETTLED if self.mishap.unsettled else 0
        values = b""
        for angle in ANGLES:
            if angle not in shown:
                status |= ABSENT[angle]
            values += _value(shown[angle]) if angle in shown else bytes(2)
        self._last_result = frame(b"R", count + bytes([status]) + values)
        return self._last_result

    def _tell_adjusted(self) -> bytes:
        return frame(b"A", struct.pack(">H", self.meter.count & 0xFFFF))

    def _answer(self, command: bytes) -> bytes:
        return frame(b"I", self._named()) if command == WHO else b""

    def _named(self) -> bytes:
        return self.serial.encode("ascii").ljust(SERIAL_BYTES, b"\0")[:SERIAL_BYTES]


def _value(tenths: int | None) -> bytes:
    if tenths is None:
        return ABOVE
    return BELOW if tenths < BOTTOM_TENTHS else struct.pack(">h", tenths)
