"""What a hand can do with a gloss meter, as acts of the control channel.

The list of acts with their arguments stands in the package's docstring. Never touches the port;
one thread.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from simulators.arguments import ActFault, Arguments
from simulators.bench import NAME, NAME_WANTED, Bench
from simulators.drifting import drift_by
from simulators.gloss.device import AskedDevice, GlossDevice, PressDevice
from simulators.gloss.meter import Press
from simulators.gloss.surface import ANGLES, TRAP, Surface
from simulators.stand import Answer, Deed


def read_surface(args: Arguments) -> Surface:
    """A surface from its arguments. Raises ActFault."""
    surface = Surface(
        args.text("name", NAME, NAME_WANTED),
        args.by_angle("gloss", ANGLES, 0, 2000),
        args.number("texture_sd", 0, 50, 0.0),
        args.number("swirl", 0, 200, 0.0),
        args.number("swirl_deg", -360, 360, 0.0),
        args.number("slope", -200, 200, 0.0),
        args.number("spots", 0, 1, 0.0),
        args.number("spot_loss", 0, 200, 0.0),
    )
    args.finish()
    return surface


class GlossBench(Bench[GlossDevice]):
    """A gloss meter in the tester's hand, with all surfaces within reach.

    `make` gives a fresh meter of the same model for another serial number.
    """

    def __init__(
        self, make: Callable[[str], GlossDevice], serial: str, surfaces: Iterable[Surface] = ()
    ) -> None:
        super().__init__(make, serial)
        self._surfaces = {surface.name: surface for surface in (TRAP, *surfaces)}
        self._doings = {
            "surface": self._surface,
            "place": self._place,
            "lift": self._lift,
            "press": self._press,
            "drift": self._drift,
            "adjust": self._adjust,
            "lamp": self._lamp,
            "memory": self._memory,
            "wait": self._wait,
        } | self._doings

    def state(self) -> Answer:
        meter = self.device.meter
        last = self.device.last_press
        return {
            "serial": meter.serial,
            "layout": self.device.layout,
            "angles": list(meter.angles),
            "powered": self.device.powered,
            "lamp_works": meter.lamp_works,
            "shown": _shown(last) if last is not None and last.shown else None,
            "surface": meter.surface.name if meter.surface else None,
            "turned_deg": meter.turned_deg,
            "count": meter.count,
            "presses": meter.presses,
            "warm_s": meter.warm_s,
            "gain": {str(angle): drift.gain for angle, drift in meter.drifts.items()},
            "offset": {str(angle): drift.offset for angle, drift in meter.drifts.items()},
        }

    def _surface(self, args: Arguments) -> Deed:
        surface = read_surface(args)
        self._surfaces[surface.name] = surface
        return Deed({"surfaces": list(self._surfaces)})

    def _place(self, args: Arguments) -> Deed:
        surface = self._surfaces[args.choice("surface", self._surfaces)]
        turned_deg = args.number("turned_deg", -360, 360, 0.0)
        along = args.number("along", -0.5, 0.5) if args.has("along") else None
        args.finish()
        try:
            self.device.meter.place(surface, turned_deg, along)
        except ValueError as fault:
            raise ActFault("place surface", str(fault), "a surface with all angles") from fault
        return Deed()

    def _lift(self, args: Arguments) -> Deed:
        args.finish()
        self.device.meter.lift()
        return Deed()

    def _press(self, args: Arguments) -> Deed:
        still = args.flag("still", False)
        args.finish()
        lines = self.device.press(still=still)
        press = self.device.last_press
        if press is None:
            return Deed({"count": None, "code": "OFF"})
        if press.code:
            failed = Deed({"count": press.count, "code": press.code}, lines)
            return self.battery.drain(self.device, failed)
        shown = _shown(press)
        true = {str(s.angle): s.true for s in press.shown}
        done = Deed({"count": press.count, "shown": shown, "true": true}, lines)
        return self.battery.drain(self.device, done)

    def _drift(self, args: Arguments) -> Deed:
        drift_by(args, self.device.meter.drifts.values())
        return Deed()

    def _adjust(self, args: Arguments) -> Deed:
        values = args.by_angle("values", self.device.meter.angles, 0, 120)
        args.finish()
        try:
            return Deed(send=self.device.adjust(values))
        except ValueError as fault:
            raise ActFault("adjust", str(fault), "the piece of the certificate") from fault

    def _lamp(self, args: Arguments) -> Deed:
        self.device.meter.lamp_works = args.flag("works")
        args.finish()
        return Deed()

    def _wait(self, args: Arguments) -> Deed:
        seconds = args.number("seconds", 0, 1e6)
        args.finish()
        self.device.meter.wait(seconds)
        return Deed({"brightness": self.device.meter.brightness})

    def _memory(self, args: Arguments) -> Deed:
        on = args.flag("on")
        args.finish()
        if not isinstance(self.device, PressDevice):
            raise ActFault("memory", AskedDevice.layout, "a meter of layout press")
        self.device.memory = on
        return Deed()

    def _another(self, serial: str) -> GlossDevice:
        old, new = self.device, super()._another(serial)
        if isinstance(old, PressDevice) and isinstance(new, PressDevice):
            new.memory = old.memory
        return new


def _shown(press: Press) -> dict[str, float | None]:
    return {str(s.angle): None if s.tenths is None else s.tenths / 10 for s in press.shown}
