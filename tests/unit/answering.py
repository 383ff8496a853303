"""A force gauge on Modbus TCP that answers at once, and a computer that now and then is late.

By the layout `modbus-force` of `drivers/modbus/WIRE.md`: a result is there every other second.
"""

from __future__ import annotations

import struct
from pathlib import Path

from acquire.errors import LinkLost
from acquire.link.tape import Tape, TapeClock
from acquire.model import Instant
from acquire.report.replay.taped import taped
from acquire.store import StoreReader
from tests.unit.tape_bench import OPENED, TapeBench

_ANSWERS_AFTER_NS = 1_000_000


class LateClock(TapeClock):
    """Now and then so much time has gone by since somebody last looked at it."""

    def __init__(self, at: Instant, every: int, late_ns: int) -> None:
        super().__init__(at)
        self._every, self._late_ns, self._looks = every, late_ns, 0

    def now(self) -> Instant:
        self._looks += 1
        if self._every and self._looks % self._every == 0:
            self.move(self._late_ns)
        return self.at

    def move(self, ns: int) -> None:
        """Let time go by."""
        self.at = Instant(self.at.utc_ns + ns, self.at.mono_ns + ns)


class AnsweringForce:
    """A link with the gauge behind it, lost after so many seconds.

    While a result is there each answer comes `times` over, behind `before`, up to `sound_after_s`.
    """

    where = "the gauge"
    adapter = ""

    def __init__(
        self,
        clock: LateClock,
        lasts_s: float,
        *,
        times: int = 1,
        before: bytes = b"",
        sound_after_s: float = 0.0,
    ) -> None:
        self._clock = clock
        self._opened_ns = clock.at.mono_ns
        self._lasts_ns = round(lasts_s * 1e9)
        self._times, self._before = times, before
        self._sound_ns = self._opened_ns + round(sound_after_s * 1e9)
        self._coming: list[tuple[int, bytes]] = []
        self.requests = 0

    def read(self, timeout_s: float) -> bytes:
        clock = self._clock
        if clock.at.mono_ns - self._opened_ns > self._lasts_ns:
            raise LinkLost("the gauge is off", got="its end")
        until_ns = clock.at.mono_ns + round(timeout_s * 1e9)
        if self._coming and self._coming[0][0] <= until_ns:
            comes_ns, data = self._coming.pop(0)
            clock.move(max(0, comes_ns - clock.at.mono_ns))
            return data
        clock.move(until_ns - clock.at.mono_ns)
        return b""

    def write(self, data: bytes) -> None:
        self.requests += 1
        halves, is_there = divmod((self._clock.at.mono_ns - self._opened_ns) // 10**9, 2)
        if data[7] == 17:
            pdu = bytes([17, 10]) + b"FG-00921\xff\x00"
        elif data[7] == 2:
            pdu = bytes([2, 1, is_there])
        else:
            high, low = struct.unpack(">HH", struct.pack(">f", 1.25 + halves))
            pdu = bytes([4, 8]) + struct.pack(">HHHH", low, high, 0, 0)
        frame = data[:4] + struct.pack(">HB", 1 + len(pdu), data[6]) + pdu
        if is_there and self._clock.at.mono_ns < self._sound_ns:
            frame = self._before + frame * self._times
        self._coming.append((self._clock.at.mono_ns + _ANSWERS_AFTER_NS, frame))

    def cancel(self) -> None:
        """Nobody waits in it."""

    def close(self) -> None:
        self._lasts_ns = -1


def late_tape(folder: Path, every: int, late_s: float, for_s: float = 20.0) -> Tape:
    """What a daemon recorded of such a gauge for so long while it came late so often."""
    bench = TapeBench(folder, "modbus-force")
    clock = LateClock(OPENED, every, round(late_s * 1e9))
    bench.hear(AnsweringForce(clock, for_s), clock)
    bench.close()
    with StoreReader(bench.store) as reader:
        return taped(reader, 1)
