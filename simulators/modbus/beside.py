"""A counter of strokes and a climate probe behind registers, RTU; as in `simulators.beside`."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from simulators.beside.device import ClimateProbe, Counter
from simulators.modbus.framing import Rtu
from simulators.modbus.pdu import ENCAPSULATED, ILLEGAL_ADDRESS, INPUT, Exceptional
from simulators.modbus.server import Server, silence_s, whole

COUNTER_UNIT, CLIMATE_UNIT = 21, 30
SERIAL_OBJECT = 0x80
_BAUD = 19200


class _Registers:
    """What both have: a server, its identity, and nothing to write."""

    functions = frozenset({INPUT, ENCAPSULATED})
    end = b"\r"
    flip = 0x01
    cut: Callable[[bytes], Iterable[bytes]] | None = staticmethod(whole)
    least_gap_s = silence_s(_BAUD)

    serial: str
    server: Server
    powered: bool

    def receive(self, data: bytes) -> bytes:
        return self.server.receive(data, self.powered)

    def _start(self) -> bytes:
        self.server.forget()
        return b""

    def write_coil(self, address: int, on: bool) -> None:  # noqa: ARG002 - it has none
        raise Exceptional(ILLEGAL_ADDRESS)

    def server_id(self) -> bytes:
        return b""

    def objects(self) -> dict[int, bytes]:
        return {SERIAL_OBJECT: self.serial.encode("ascii")}


class ModbusCounter(_Registers, Counter):
    """Layout `counter`: its running count in two registers, the high one first."""

    layout = "counter"

    def __init__(self, serial: str, now_s: Callable[[], float]) -> None:
        super().__init__(serial)
        self.server = Server(COUNTER_UNIT, Rtu(now_s), self)

    def table(self, _: int) -> dict[int, int]:
        return {0: self.total >> 16 & 0xFFFF, 1: self.total & 0xFFFF}

    def _answer(self, _: bytes) -> bytes:
        return b""


class ModbusClimate(_Registers, ClimateProbe):
    """Layout `climate`: tenths of a degree with a sign, and tenths of a percent."""

    layout = "climate"

    def __init__(self, serial: str, now_s: Callable[[], float]) -> None:
        super().__init__(serial)
        self.server = Server(CLIMATE_UNIT, Rtu(now_s), self)

    def table(self, _: int) -> dict[int, int]:
        return {
            0: round(self.temperature_c * 10) & 0xFFFF,
            1: round(self.humidity_percent * 10) & 0xFFFF,
        }
