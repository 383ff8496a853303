"""The gauge that reports weights by itself in the tester's hand: `hid-weighing`.

Acts: `zone`, `place`, `pull`, `weight`, `tare`, `drift`, `cell`, and those of every USB device.
What they take says `simulators.force`; `drift` takes `gain` and `g_per_s`. Any thread; every act is
done with the bus held.
"""

from __future__ import annotations

from dataclasses import dataclass

from simulators.arguments import ActFault, Arguments
from simulators.force.acts import MOST_MASS_G, read_zone
from simulators.force.sled import Zone
from simulators.usb.backend import SimulatedBackend
from simulators.usb.hand import Answer, Spoiler, UsbHand
from simulators.usb.hid import INTERRUPT_IN
from simulators.usb.load import Load, Pull, Weight
from simulators.usb.scales import weighing_gauge
from simulators.usb.weighing import SIGNS

EMPTY_REPORTS = 8
"""For so many reports nothing is on a gauge before the next load: it has to be seen to be empty."""


@dataclass(frozen=True)
class After:
    """Nothing at first, then a load."""

    load: Load
    empty_s: float

    def grams(self, after_s: float) -> float:
        return 0.0 if after_s < self.empty_s else self.load.grams(after_s - self.empty_s)


class GaugeHand(UsbHand):
    """The gauge that reports weights by itself."""

    def __init__(
        self,
        backend: SimulatedBackend,
        spoiler: Spoiler,
        serial: str,
        seed: int,
        *,
        noise_g: float = 0.02,
        interval_s: float = 0.1,
        settle_s: float = 0.15,
    ) -> None:
        device = weighing_gauge(
            serial,
            seed=seed,
            now_s=backend.now_s,
            noise_g=noise_g,
            interval_s=interval_s,
            spoilt=spoiler,
        )
        super().__init__(backend, device, spoiler.spoilt, INTERRUPT_IN)
        self._scale = device
        self._empty_s, self._settle_s = EMPTY_REPORTS * interval_s, settle_s
        self._zones = {"bare": Zone("bare")}
        self._zone: Zone | None = None
        self._doings |= {
            "zone": self._lay_zone,
            "place": self._place,
            "pull": self._pull,
            "weight": self._weight,
            "tare": self._tare,
            "drift": self._drift,
            "cell": self._cell,
        }

    def _state(self, args: Arguments) -> Answer:
        state = super()._state(args)
        with self._scale.touched():
            gauge = self._scale.gauge
            shown = gauge.shown if self.device.plugged else None
            return state | {"shown": shown, "unit": SIGNS[gauge.unit]}

    def _lay_zone(self, args: Arguments) -> Answer:
        zone = read_zone(args)
        self._zones[zone.name] = zone
        return {}

    def _place(self, args: Arguments) -> Answer:
        self._zone = self._zones[args.choice("zone", self._zones)]
        args.finish()
        return {}

    def _pull(self, args: Arguments) -> Answer:
        sled_g = args.number("mass_g", 10, MOST_MASS_G, 200.0)
        dwell_s = args.number("dwell_s", 0, 1e6, 1.0)
        slides_s = args.number("slides_s", 0, 10, 2.0)
        args.finish()
        zone = self._zone
        if zone is None:
            raise ActFault("pull", "the sled stands nowhere", "a sled that was placed on a zone")
        # Drawn by hand and evenly: what settles is the force that keeps it sliding.
        pull = Pull(
            sled_g, zone.static, zone.kinetic, dwell_s, zone.ageing,
            stick_slip_g=0.0, slides_s=slides_s,
        )  # fmt: skip
        self._scale.put(After(pull, self._empty_s))
        return {"true_g": pull.breakaway_g}

    def _weight(self, args: Arguments) -> Answer:
        mass_g = args.number("mass_g", 0, MOST_MASS_G)
        if args.has("for_s"):
            args.number("for_s", 0.001, 60)
        args.finish()
        self._scale.put(After(Weight(mass_g, settle_s=self._settle_s), self._empty_s))
        return {}

    def _tare(self, args: Arguments) -> Answer:
        args.finish()
        self._scale.zero()
        return {}

    def _drift(self, args: Arguments) -> Answer:
        gain = args.number("gain", 0.2, 5, 1.0)
        g_per_s = args.number("g_per_s", -50, 50, 0.0)
        args.finish()
        with self._scale.touched():
            self._scale.gauge.span *= gain
            self._scale.gauge.drift_g_per_s = g_per_s
        return {}

    def _cell(self, args: Arguments) -> Answer:
        works = args.flag("works")
        args.finish()
        with self._scale.touched():
            self._scale.gauge.broken = not works
        return {}
