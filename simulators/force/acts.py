"""What a hand can do with a force gauge and a sled, as acts of the control channel.

The list of acts with their arguments stands in the package's docstring. Never touches the port;
one thread.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from simulators.arguments import ActFault, Arguments
from simulators.bench import NAME, NAME_WANTED, Bench
from simulators.drifting import drift_by
from simulators.force.device import ForceDevice
from simulators.force.gauge import NEWTONS
from simulators.force.sled import RATE_HZ, Sled, Tow, Zone
from simulators.stand import Answer, Deed
from simulators.usb.load import Weight

MOST_MASS_G = 20000


def read_zone(args: Arguments) -> Zone:
    """A zone from its arguments. Raises ActFault."""
    kinetic = args.number("kinetic", 0.01, 2, 0.30)
    zone = Zone(
        args.text("name", NAME, NAME_WANTED),
        args.number("static", kinetic, 3, max(0.40, kinetic)),
        kinetic,
        args.number("ageing", 0, 1, 0.05),
        args.number("first", 0.5, 3, 1.06),
        args.number("texture", 0, 0.5, 0.01),
    )
    args.finish()
    return zone


class ForceBench(Bench[ForceDevice]):
    """A gauge in the tester's hand, with a sled, weights, and all zones within reach."""

    def __init__(
        self,
        make: Callable[[str], ForceDevice],
        serial: str,
        seed: int,
        zones: Iterable[Zone] = (),
    ) -> None:
        super().__init__(make, serial)
        self.sled = Sled(f"{seed}|sled")
        self._zones = {zone.name: zone for zone in (Zone("bare"), *zones)}
        self._doings |= {
            "zone": self._zone,
            "place": self._place,
            "pull": self._pull,
            "weight": self._weight,
            "unit": self._unit,
            "drift": self._drift,
        }
        buttons = {
            "press": self._press,
            "tare": self._tare,
            "adjust": self._adjust,
            "cell": self._cell,
        }
        self._doings |= {name: buttons[name] for name in self.device.buttons}

    def state(self) -> Answer:
        gauge = self.device.gauge
        return super().state() | {
            "shown": self.device.shown,
            "unit": gauge.unit,
            "zone": self.sled.zone.name if self.sled.zone else None,
            "pulls": self.sled.pulls,
            "pulls_here": self.sled.pulls_here,
            "hangs_g": round(gauge.hangs_n / NEWTONS["gf"], 6),
            "count": gauge.count,
            "presses": gauge.presses,
            "gain": gauge.drift.gain,
            "offset": gauge.drift.offset,
            "zero_n": gauge.zero_n,
        }

    def _zone(self, args: Arguments) -> Deed:
        zone = read_zone(args)
        self._zones[zone.name] = zone
        return Deed({"zones": list(self._zones)})

    def _place(self, args: Arguments) -> Deed:
        zone = self._zones[args.choice("zone", self._zones)]
        args.finish()
        self.sled.place(zone)
        return Deed()

    def _pull(self, args: Arguments) -> Deed:
        tow = Tow(
            args.number("mass_g", 10, MOST_MASS_G, 200.0),
            args.number("speed_mm_per_s", 0.5, 50, 3.0),
            args.number("stiffness_n_per_mm", 0.2, 20, 1.0),
            args.number("slides_s", 0, 10, 0.8),
        )
        dwell_s = args.number("dwell_s", 0, 1e6, 1.0)
        args.finish()
        try:
            forces_n = self.sled.pull(tow, dwell_s)
        except ValueError as fault:
            raise ActFault("pull", str(fault), "a sled that was placed on a zone") from fault
        self.device.pull(forces_n)
        told: Answer = {"true_n": max(forces_n), "lasts_s": len(forces_n) / 1000}
        return Deed({**self._display(), **told} if self.device.shows_pulls else told)

    def _display(self) -> Answer:
        """What stands on it, as whoever reads it off would type it."""
        return {"shown": self.device.shown, "unit": self.device.shown_unit}

    def _weight(self, args: Arguments) -> Deed:
        mass_g = args.number("mass_g", 0, MOST_MASS_G)
        for_s = args.number("for_s", 0.001, 60) if args.has("for_s") else None
        args.finish()
        if for_s is None:
            self.device.hang(mass_g)
        else:
            # It swings in and is taken off again: to the gauge that is a pull.
            swings = Weight(mass_g)
            grams = (swings.grams(i / RATE_HZ) for i in range(round(for_s * RATE_HZ)))
            self.device.pull([one * NEWTONS["gf"] for one in grams])
        return Deed()

    def _unit(self, args: Arguments) -> Deed:
        self.device.gauge.unit = args.choice("unit", self.device.units)
        args.finish()
        return Deed()

    def _drift(self, args: Arguments) -> Deed:
        drift_by(args, [self.device.gauge.drift])
        return Deed()

    def _press(self, args: Arguments) -> Deed:
        moving = args.flag("moving", False)
        args.finish()
        peak, sent = self.device.press(moving=moving)
        if peak is None:
            return Deed({"count": None, "code": "OFF"})
        seen = {"count": peak.count, "seen_n": peak.newton, "beyond": peak.beyond}
        done = Deed({**self._display(), **seen}, sent)
        return self.battery.drain(self.device, done)

    def _tare(self, args: Arguments) -> Deed:
        args.finish()
        return Deed(send=self.device.tare())

    def _adjust(self, args: Arguments) -> Deed:
        certified_g = args.number("value_g", 1, MOST_MASS_G)
        args.finish()
        try:
            return Deed(send=self.device.adjust(certified_g))
        except ValueError as fault:
            raise ActFault("adjust", str(fault), "the weight of the certificate") from fault

    def _cell(self, args: Arguments) -> Deed:
        self.device.gauge.cell_works = args.flag("works")
        args.finish()
        return Deed()
