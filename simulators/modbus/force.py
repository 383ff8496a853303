"""A force gauge that holds its peak behind registers, TCP; physics of `simulators.force`.

A pull takes as long as it takes: until its end there is no result. So does a press, which takes
what pulls now.
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Iterable, Sequence

from simulators.force.device import ForceDevice
from simulators.force.gauge import NEWTONS, Gauge, Peak, displayed
from simulators.force.sled import RATE_HZ
from simulators.modbus.framing import Tcp
from simulators.modbus.pdu import DISCRETE, ILLEGAL_ADDRESS, INPUT, SERVER_ID, Exceptional
from simulators.modbus.server import Server, whole

UNIT = 255
PEAK_AT = 16
SERIAL_BYTES = 8
CODES = {"N": 0, "gf": 1, "lbf": 2}
DECIMALS = {"N": 3, "gf": 2, "lbf": 4}
PRESS_S = 0.3


class ModbusForce(ForceDevice):
    """Layout `force`. `now_s` is a clock that never goes back."""

    layout = "force"
    end = b""
    flip = 0x01
    cut: Callable[[bytes], Iterable[bytes]] | None = staticmethod(whole)
    units = tuple(CODES)
    shows_pulls = True
    functions = frozenset({DISCRETE, INPUT, SERVER_ID})

    def __init__(self, gauge: Gauge, now_s: Callable[[], float]) -> None:
        super().__init__(gauge)
        self.server = Server(UNIT, Tcp(), self)
        self._now_s = now_s
        self._result: Peak | None = None
        self._ready_s = 0.0
        self._takes_s = PRESS_S
        self._stands = self._registers(None)

    def pull(self, forces_n: Sequence[float]) -> None:
        """A pull that begins now; its end is its result."""
        super().pull(forces_n)
        self._takes_s = len(forces_n) / RATE_HZ
        self.press()
        self._takes_s = PRESS_S

    def table(self, function: int) -> dict[int, int]:
        ready = self._result is not None and self._now_s() >= self._ready_s
        if ready:
            self._stands = self._registers(self._result)
        if function == DISCRETE:
            return {0: int(ready)}
        return {PEAK_AT + i: word for i, word in enumerate(self._stands)}

    def write_coil(self, address: int, on: bool) -> None:  # noqa: ARG002 - it has none
        raise Exceptional(ILLEGAL_ADDRESS)

    def server_id(self) -> bytes:
        return self.serial.encode("ascii").ljust(SERIAL_BYTES)[:SERIAL_BYTES] + b"\xff\x00"

    def objects(self) -> dict[int, bytes]:
        return {}

    def _start(self) -> bytes:
        self.server.forget()
        self._result = None
        self._stands = self._registers(None)
        return b""

    def _hear(self, data: bytes) -> bytes:
        return self.server.receive(data, self.powered)

    def _tell(self, peak: Peak) -> bytes:
        self._result, self._ready_s = peak, self._now_s() + self._takes_s
        return b""

    def _displayed(self, peak: Peak) -> str:
        return displayed(peak.newton, peak.unit, DECIMALS[peak.unit])

    def _registers(self, peak: Peak | None) -> tuple[int, ...]:
        """What stands there until the next result, even while one is on its way."""
        if peak is None:
            return (0, 0, CODES.get(self.gauge.unit, 0), 0)
        newton = peak.beyond * self.gauge.limit_n if peak.beyond else peak.newton
        value = round(newton / NEWTONS[peak.unit], DECIMALS[peak.unit])
        high, low = struct.unpack(">2H", struct.pack(">f", value))
        return (low, high, CODES[peak.unit], int(peak.beyond != 0))
