"""A transmission meter, frames told apart by silence; physics of `simulators.transmission`.

status  three values, low byte first  count  CRC-8/SMBUS
"""

from __future__ import annotations

import struct
from collections.abc import Iterable

from simulators.checks import crc8_smbus
from simulators.transmission.device import HeadDevice
from simulators.transmission.head import Shown
from simulators.transmission.light import LUMINOUS, NEAR_INFRARED, UVA

FRAME_BYTES = 9
OPEN_BEAM_SET, SOURCE_FAILED = 0x80, 0x01
ABOVE = 0xFFFF
TOP_HUNDREDTHS = 12000
"""The page says what is sent above the range, and not where that is."""

SILENCE_S = 0.06


def cut(data: bytes) -> Iterable[bytes]:
    """The frames that stand one behind the other."""
    for at in range(0, len(data), FRAME_BYTES):
        yield data[at : at + FRAME_BYTES]


class FrameBands(HeadDevice):
    """Layout `bands`. The host sends nothing, and nothing that it sends is heard."""

    layout = "bands"
    end = b""
    flip = 0x01
    cut = staticmethod(cut)
    least_gap_s = SILENCE_S
    bands = (UVA, LUMINOUS, NEAR_INFRARED)

    def _start(self) -> bytes:
        return b""

    def _hear(self, _: bytes) -> bytes:
        return b""

    def _tell(self, shown: Shown) -> bytes:
        status = OPEN_BEAM_SET if self.head.open_beam_set else 0
        values = [_hundredths(shown.percent.get(band.name, 0.0)) for band in self.bands]
        if shown.code:
            status |= SOURCE_FAILED
        body = struct.pack("<B3HB", status, *values, shown.count & 0xFF)
        return body + bytes([crc8_smbus(body)])

    def _displayed(self, percent: float) -> str | None:
        steps = _hundredths(percent)
        return None if steps == ABOVE else f"{steps / 100:.2f}"


def _hundredths(percent: float) -> int:
    """Below nothing there is nothing: the layout has no sign."""
    steps = max(0, round(percent * 100))
    return ABOVE if steps > TOP_HUNDREDTHS else steps
