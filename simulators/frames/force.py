"""A force gauge that sends its held peak in packed decimals; physics of `simulators.force`.

02  kind  seven bytes  two's complement of the sum  03
"""

from __future__ import annotations

from collections.abc import Iterable

from simulators.force.device import ForceDevice
from simulators.force.gauge import NEWTONS, Gauge, Peak
from simulators.frames.commands import ExactCommands

WHO = b"\x02\x3f\x03"
TAKE = b"\x02\x4d\x03"
FRAME_BYTES = 11
SERIAL_BYTES = 7
COUNT_WRAPS = 99

CODES = {"N": b"N", "gf": b"G", "kgf": b"K", "lbf": b"L"}
DECIMALS = {"N": 2, "gf": 1, "kgf": 3, "lbf": 3}
HELD, OVERLOAD = 0x20, 0x40
MOST_DIGITS = 9_999_999

NO_CELL = 0x03
"""The code of a press without a sensor. The page leaves codes to the gauge."""


def frame(kind: bytes, body: bytes) -> bytes:
    """A whole frame."""
    inside = kind + body
    return b"\x02" + inside + bytes([-sum(inside) % 256]) + b"\x03"


def cut(data: bytes) -> Iterable[bytes]:
    """The frames that stand one behind the other, without their end markers."""
    for at in range(0, len(data), FRAME_BYTES):
        yield data[at : at + FRAME_BYTES - 1]


class FrameForce(ForceDevice):
    """Layout `force`. The peak memory begins anew after each press, which the page leaves open."""

    layout = "force"
    end = b"\x03"
    flip = 0x01
    cut = staticmethod(cut)
    units = tuple(CODES)
    buttons = ("press", "tare", "adjust", "cell")

    def __init__(self, gauge: Gauge) -> None:
        super().__init__(gauge)
        self._host = ExactCommands(WHO, TAKE)

    def _start(self) -> bytes:
        self._host.forget()
        return frame(b"W", self._named())

    def _hear(self, data: bytes) -> bytes:
        sent = b""
        for command in self._host.feed(data):
            sent += self.press()[1] if command == TAKE else frame(b"S", self._named())
        return sent

    def _tell(self, peak: Peak) -> bytes:
        if not self.gauge.cell_works:
            return frame(b"F", bytes([NO_CELL]) + bytes(5) + _count(peak.count))
        decimals, steps = DECIMALS[peak.unit], _steps(peak)
        overload = peak.beyond or steps > MOST_DIGITS
        status = decimals | (0 if peak.moving else HELD) | (OVERLOAD if overload else 0)
        digits = 0 if overload else steps
        sign = "D" if digits and peak.newton < 0 else "C"
        packed = bytes.fromhex(f"{digits:07d}{sign}")
        return frame(b"P", CODES[peak.unit] + bytes([status]) + packed + _count(peak.count))

    def _displayed(self, peak: Peak) -> str | None:
        decimals, steps = DECIMALS[peak.unit], _steps(peak)
        sign = "-" if steps and peak.newton < 0 else ""
        return None if steps > MOST_DIGITS else f"{sign}{steps / 10**decimals:.{decimals}f}"

    def _tell_adjusted(self) -> bytes:
        return frame(b"C", bytes(6) + _count(self.gauge.count))

    def _named(self) -> bytes:
        return self.serial.encode("ascii").ljust(SERIAL_BYTES)[:SERIAL_BYTES]


def _steps(peak: Peak) -> int:
    power: int = 10 ** DECIMALS[peak.unit]
    return round(abs(peak.newton) / NEWTONS[peak.unit] * power)


def _count(count: int) -> bytes:
    return bytes.fromhex(f"{(count - 1) % COUNT_WRAPS + 1 if count else 0:02d}")
