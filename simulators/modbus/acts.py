"""What a hand can do with a device behind registers beyond what it can with others of its kind.

One thread.
"""

from __future__ import annotations

from collections.abc import Callable

from simulators.arguments import ActFault, Arguments
from simulators.gloss.acts import GlossBench
from simulators.gloss.surface import ANGLES
from simulators.modbus.gloss import ModbusGloss
from simulators.modbus.server import Server
from simulators.modbus.transmission import ModbusHead
from simulators.stand import Deed
from simulators.transmission.acts import HeadBench


class ModbusGlossBench(GlossBench):
    """The gloss meter behind registers in the tester's hand."""

    device: ModbusGloss

    def __init__(self, make: Callable[[str], ModbusGloss], serial: str) -> None:
        super().__init__(make, serial)
        del self._doings["memory"]
        self._doings |= {"angles": self._angles, "battery": self._battery, "echo": self._echo}

    def _angles(self, args: Arguments) -> Deed:
        angles = [angle for angle in ANGLES if args.flag(str(angle), False)]
        args.finish()
        if not angles:
            raise ActFault("angles", "nothing", 'at least one, as {"20": true}')
        self.device.measured = angles
        return Deed({"angles": angles})

    def _battery(self, args: Arguments) -> Deed:
        if args.has("presses"):
            return super()._battery(args)
        self.device.battery_low = args.flag("low")
        args.finish()
        return Deed()

    def _echo(self, args: Arguments) -> Deed:
        return _echo(args, self.device.server)


class ModbusHeadBench(HeadBench):
    """The head behind registers in the tester's hand."""

    device: ModbusHead

    def __init__(self, make: Callable[[str], ModbusHead], serial: str) -> None:
        super().__init__(make, serial)
        self._doings |= {"slow": self._slow, "echo": self._echo}

    def _slow(self, args: Arguments) -> Deed:
        self.device.measures_s = args.number("measures_s", 0, 60)
        args.finish()
        return Deed()

    def _echo(self, args: Arguments) -> Deed:
        return _echo(args, self.device.server)


def _echo(args: Arguments, server: Server) -> Deed:
    server.echoes = args.flag("on")
    args.finish()
    return Deed()
