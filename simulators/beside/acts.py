"""What a hand can do with a counter or a climate probe. Never touches the port; one thread.

The list of acts with their arguments stands in the package's docstring.
"""

from __future__ import annotations

from collections.abc import Callable

from simulators.arguments import Arguments
from simulators.bench import Bench
from simulators.beside.device import ClimateProbe, Counter
from simulators.stand import Answer, Deed

MOST = 2**32 - 1


class CounterBench(Bench[Counter]):
    """A counter beside the wash."""

    def __init__(self, make: Callable[[str], Counter], serial: str) -> None:
        super().__init__(make, serial)
        self._doings |= {"press": self._press, "count": self._count}

    def state(self) -> Answer:
        return super().state() | {"total": self.device.total, "number": self.device.number}

    def _press(self, args: Arguments) -> Deed:
        args.finish()
        sent = self.device.stroke()
        return Deed({"total": self.device.total, "number": self.device.number}, sent)

    def _count(self, args: Arguments) -> Deed:
        to = args.whole("to", 0, MOST)
        args.finish()
        self.device.total = self.device.number = to
        return Deed({"total": to})


class ClimateBench(Bench[ClimateProbe]):
    """A climate probe in its room."""

    def __init__(self, make: Callable[[str], ClimateProbe], serial: str) -> None:
        super().__init__(make, serial)
        self._doings |= {"room": self._room}

    def state(self) -> Answer:
        return super().state() | self._is()

    def _is(self) -> Answer:
        device = self.device
        return {
            "temperature_c": device.temperature_c,
            "humidity_percent": device.humidity_percent,
        }

    def _room(self, args: Arguments) -> Deed:
        if not args.has("temperature_c") and not args.has("humidity_percent"):
            raise args.fault("temperature_c", "temperature_c, humidity_percent or both")
        device = self.device
        device.temperature_c = args.number("temperature_c", -60, 99.9, device.temperature_c)
        device.humidity_percent = args.number("humidity_percent", 0, 100, device.humidity_percent)
        args.finish()
        return Deed(self._is())
