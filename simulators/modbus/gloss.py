"""A gloss meter of three geometries behind registers, RTU; physics of `simulators.gloss`."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from simulators.gloss.device import GlossDevice
from simulators.gloss.meter import Meter, Press
from simulators.gloss.surface import ANGLES
from simulators.modbus.framing import Rtu
from simulators.modbus.pdu import HOLDING, ILLEGAL_ADDRESS, INPUT, Exceptional
from simulators.modbus.server import Server, silence_s, whole

UNIT = 17
COUNT_WRAPS = 65535
TOP_TENTHS = 20000
SERIAL_AT, SERIAL_REGISTERS = 0x0100, 8

LAMP, LIFTED, LOW_BATTERY = 0x01, 0x02, 0x04
ABOVE, ABSENT = 0x7FFF, 0x8000


class ModbusGloss(GlossDevice):
    """Layout `gloss`. It measures the geometries of `measured`, all by default."""

    layout = "gloss"
    end = b""
    flip = 0x01
    cut: Callable[[bytes], Iterable[bytes]] | None = staticmethod(whole)
    least_gap_s = silence_s(19200)
    functions = frozenset({HOLDING, INPUT})

    def __init__(self, meter: Meter, now_s: Callable[[], float]) -> None:
        super().__init__(meter)
        self.server = Server(UNIT, Rtu(now_s), self)
        self.battery_low = False
        self._adjusted = 0
        self._status = 0
        self._values = dict.fromkeys(ANGLES, ABSENT)

    @property
    def measured(self) -> Sequence[int]:
        return self.meter.angles

    @measured.setter
    def measured(self, angles: Sequence[int]) -> None:
        self.meter.angles = tuple(angle for angle in ANGLES if angle in angles)

    def receive(self, data: bytes) -> bytes:
        """Bytes from the host."""
        return self.server.receive(data, self.powered)

    def table(self, function: int) -> dict[int, int]:
        if function == HOLDING:
            named = self.serial.encode("ascii").ljust(2 * SERIAL_REGISTERS, b"\0")
            return {
                SERIAL_AT + i: int.from_bytes(named[2 * i : 2 * i + 2], "big")
                for i in range(SERIAL_REGISTERS)
            }
        values = (self._values[angle] for angle in ANGLES)
        return dict(enumerate((self.meter.count, self._status, *values, self._adjusted)))

    def write_coil(self, address: int, on: bool) -> None:  # noqa: ARG002 - it has none
        raise Exceptional(ILLEGAL_ADDRESS)

    def server_id(self) -> bytes:
        return b""

    def objects(self) -> dict[int, bytes]:
        return {}

    def _start(self) -> bytes:
        self.server.forget()
        self._status = 0
        self._values = dict.fromkeys(ANGLES, ABSENT)
        return b""

    def _tell(self, press: Press) -> bytes:
        self._status = {"LAMP": LAMP, "LIFT": LIFTED, "": 0}[press.code]
        self._status |= LOW_BATTERY if self.battery_low else 0
        self._values = dict.fromkeys(ANGLES, ABSENT)
        for one in press.shown:
            self._values[one.angle] = ABOVE if one.tenths is None else one.tenths & 0xFFFF
        return b""

    def _tell_adjusted(self) -> bytes:
        self._adjusted = (self._adjusted + 1) & 0xFFFF
        return b""

    def _answer(self, _: bytes) -> bytes:
        return b""
