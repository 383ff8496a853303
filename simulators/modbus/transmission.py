"""A head that measures when it is told to, RTU; physics of `simulators.transmission`."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from simulators.modbus.framing import Rtu
from simulators.modbus.pdu import (
    BUSY,
    ENCAPSULATED,
    FAILURE,
    HOLDING,
    ILLEGAL_ADDRESS,
    WRITE_COIL,
    Exceptional,
)
from simulators.modbus.server import Server, silence_s, whole
from simulators.transmission.device import HeadDevice
from simulators.transmission.head import Head, Shown
from simulators.transmission.light import VISIBLE

UNIT = 3
RESULT_AT = 10
SERIAL_OBJECT = 0x80
ABOVE, MOST_HUNDREDTHS = 0xFFFF, 9999
MEASURES_S = 0.5


class ModbusHead(HeadDevice):
    """Layout `transmission`. It is at work for `measures_s`; `now_s` never goes back.

    `holds` is what its memory has in place of any result, once that has failed.
    """

    layout = "transmission"
    end = b""
    flip = 0x01
    cut: Callable[[bytes], Iterable[bytes]] | None = staticmethod(whole)
    least_gap_s = silence_s(9600)
    bands = (VISIBLE,)
    functions = frozenset({HOLDING, WRITE_COIL, ENCAPSULATED})

    def __init__(self, head: Head, now_s: Callable[[], float]) -> None:
        super().__init__(head)
        self.server = Server(UNIT, Rtu(now_s), self)
        self.measures_s = MEASURES_S
        self.holds: int | None = None
        self._now_s = now_s
        self._result = 0
        self._ready_s = now_s()

    def receive(self, data: bytes) -> bytes:
        """Bytes from the host; the adapter is there even without power."""
        return self.server.receive(data, self.powered)

    def table(self, _: int) -> dict[int, int]:
        if self._now_s() < self._ready_s:
            raise Exceptional(BUSY)
        return {RESULT_AT: self._result if self.holds is None else self.holds}

    def write_coil(self, address: int, on: bool) -> None:
        if address != 0:
            raise Exceptional(ILLEGAL_ADDRESS)
        if on:
            self.press()
            if self.last is None or self.last.code:
                raise Exceptional(FAILURE)

    def server_id(self) -> bytes:
        return b""

    def objects(self) -> dict[int, bytes]:
        return {SERIAL_OBJECT: self.serial.encode("ascii")}

    def _start(self) -> bytes:
        self.server.forget()
        self._result = 0
        self._ready_s = self._now_s()
        return b""

    def _hear(self, data: bytes) -> bytes:
        return self.server.receive(data, self.powered)

    def _tell(self, shown: Shown) -> bytes:
        if not shown.code:
            steps = _hundredths(shown.percent[VISIBLE.name])
            self._result = ABOVE if steps is None else int(f"{steps:04d}", 16)
            self._ready_s = self._now_s() + self.measures_s
        return b""

    def _displayed(self, percent: float) -> str | None:
        steps = _hundredths(percent)
        return None if steps is None else f"{steps / 100:.2f}"


def _hundredths(percent: float) -> int | None:
    """None above the range."""
    steps = max(0, round(percent * 100))
    return None if steps > MOST_HUNDREDTHS else steps
