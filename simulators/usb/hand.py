"""USB devices in the tester's hand, with acts by name as the devices on lines have them.

`usbtmc-head`: `piece`, `place`, `press`, `adjust`, `drift`, `lamp`, `cover`. `hid-weighing`:
`zone`, `place`, `pull`, `weight`, `tare`, `drift`, `cell`. Both: `unplug`, `plug`, `fault`,
`state`. What the acts take says `simulators.transmission` and `simulators.force`; `drift` of a
gauge takes `gain` and `g_per_s`, `cover` takes `open`, `fault` a `kind` of `simulators.usb.faults`
and for how many `packets` it holds. Any thread; every act is done with the bus held.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from simulators.arguments import ActFault, Arguments
from simulators.bench import NAME, NAME_WANTED
from simulators.force.acts import MOST_MASS_G, read_zone
from simulators.force.sled import Zone
from simulators.transmission.acts import read_slide
from simulators.usb.backend import SimulatedBackend
from simulators.usb.behaviour import Behaviour
from simulators.usb.device import SimulatedDevice
from simulators.usb.faults import CLEAN, KINDS, Spoilt
from simulators.usb.head import PRESS_S
from simulators.usb.hid import INTERRUPT_IN
from simulators.usb.light import OPEN, SHUTTER, Slide
from simulators.usb.load import Load, Pull, Weight
from simulators.usb.scales import weighing_gauge
from simulators.usb.tmc import BULK_IN
from simulators.usb.transmission import transmission_head

EMPTY_REPORTS = 8
"""For so many reports nothing is on a gauge before the next load: it has to be seen to be empty."""

Answer = dict[str, object]

HEAD_BANDS: Mapping[str, tuple[float, float]] = {
    "315-400": (315, 400),
    "940": (930, 950),
    "380-780": (380, 780),
    "780-1400": (780, 1400),
}
"""The narrower first: where bands overlap, it says what comes through."""


@dataclass(frozen=True)
class Banded(Slide):
    """A slide of which a film takes or gives its own share in each band."""

    film_by_band: Mapping[str, float] = field(default_factory=dict)

    def passes(self, wavelength_nm: float) -> float:
        bare = super().passes(wavelength_nm)
        for name, (low_nm, high_nm) in HEAD_BANDS.items():
            if name in self.film_by_band and low_nm <= wavelength_nm <= high_nm:
                return bare * self.film_by_band[name]
        return bare


class _Spoiler:
    """Puts faults before a behaviour, and keeps what it put there."""

    spoilt: Spoilt

    def __init__(self, backend: SimulatedBackend) -> None:
        self._now_s = backend.waiting.now_s

    def __call__(self, behaviour: Behaviour) -> Spoilt:
        self.spoilt = Spoilt(behaviour, self._now_s)
        return self.spoilt


class UsbHand:
    """A device on a simulated bus, and what a hand can do to it."""

    def __init__(
        self, backend: SimulatedBackend, device: SimulatedDevice, spoilt: Spoilt, pipe: int
    ) -> None:
        self.device = device
        self._backend = backend
        self._spoilt = spoilt
        self._pipe = pipe
        spoilt.unplug = device.unplug
        self._doings: dict[str, Callable[[Arguments], Answer]] = {
            "unplug": self._unplug,
            "plug": self._plug,
            "fault": self._fault,
            "state": self._state,
        }
        backend.plug(device)

    @property
    def serial(self) -> str:
        """The serial number of its descriptor."""
        return self.device.descriptors.serial_number or ""

    @property
    def port(self) -> str:
        """What it is found by."""
        vid, pid = self.device.descriptors.vid, self.device.descriptors.pid
        return f"usb {vid:04x}:{pid:04x} {self.serial}"

    def act(self, act: str, /, **arguments: object) -> Answer:
        """Do an act and return its answer. Raises ActFault."""
        if act not in self._doings:
            raise ActFault("act", act, f"one of {', '.join(self._doings)}")
        return {"ok": True, **self._doings[act](Arguments(act, arguments))}

    def close(self) -> None:
        """Take it off the bus."""
        if self.device.plugged:
            self.device.unplug()

    def _unplug(self, args: Arguments) -> Answer:
        args.finish()
        self.device.unplug()
        return {}

    def _plug(self, args: Arguments) -> Answer:
        args.finish()
        if not self.device.plugged:
            self._backend.plug(self.device)
        return {}

    def _fault(self, args: Arguments) -> Answer:
        kind = args.choice("kind", (*KINDS, CLEAN))
        packets = args.whole("packets", 1, 1000, 1)
        args.finish()
        with self.device.touched():
            self._spoilt.add(self._pipe, *[kind] * packets)
        return {}

    def _state(self, args: Arguments) -> Answer:
        args.finish()
        return {"serial": self.serial, "plugged": self.device.plugged}


class HeadHand(UsbHand):
    """The spectral transmission head."""

    def __init__(
        self, backend: SimulatedBackend, serial: str, seed: int, *, press_s: float = PRESS_S
    ) -> None:
        spoiler = _Spoiler(backend)
        head = transmission_head(
            serial,
            seed=seed,
            now_s=backend.waiting.now_s,
            spoilt=spoiler,
            press_s=press_s,
        )
        super().__init__(backend, head, spoiler.spoilt, BULK_IN)
        self._head = head
        self._pieces: dict[str, Slide] = {"open": OPEN, "dark": SHUTTER}
        self._doings |= {
            "piece": self._piece,
            "place": self._place,
            "press": self._press,
            "adjust": self._adjust,
            "drift": self._drift,
            "lamp": self._lamp,
            "cover": self._cover,
        }

    def _piece(self, args: Arguments) -> Answer:
        name = args.text("name", NAME, NAME_WANTED)
        if args.has("percent"):
            percent = args.by_name("percent", HEAD_BANDS, 0, 600)
            shares = {band: value / 100 for band, value in percent.items()}
            slide = Banded(name, 1.0, 0.0, film_by_band=shares)
        else:
            glass = read_slide(name, args)
            film = args.by_name("film", HEAD_BANDS, 0, 2) if args.has("film") else {}
            slide = Banded(name, glass.clear, glass.edge_nm, glass.edge_width_nm, None, film)
        args.finish()
        self._pieces[name] = slide
        return {"pieces": list(self._pieces)}

    def _place(self, args: Arguments) -> Answer:
        piece = self._pieces[args.choice("piece", self._pieces)]
        args.finish()
        self._head.lay(piece)
        return {}

    def _press(self, args: Arguments) -> Answer:
        args.finish()
        return {"measures": self._head.press()}

    def _adjust(self, args: Arguments) -> Answer:
        args.finish()
        self._head.adjust()
        return {}

    def _drift(self, args: Arguments) -> Answer:
        gain = args.number("gain", 0.2, 5)
        per_press = args.flag("per_press", False)
        args.finish()
        with self._head.touched():
            if per_press:
                self._head.head.beam.lamp_per_press = gain
            else:
                self._head.head.beam.lamp *= gain
        return {}

    def _lamp(self, args: Arguments) -> Answer:
        works = args.flag("works")
        args.finish()
        self._head.upset(lamp_works=works, covered=self._head.head.covered)
        return {}

    def _cover(self, args: Arguments) -> Answer:
        is_open = args.flag("open")
        args.finish()
        self._head.upset(lamp_works=self._head.head.lamp_works, covered=not is_open)
        return {}


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
        serial: str,
        seed: int,
        *,
        noise_g: float = 0.02,
        interval_s: float = 0.1,
        settle_s: float = 0.15,
    ) -> None:
        spoiler = _Spoiler(backend)
        device = weighing_gauge(
            serial,
            seed=seed,
            now_s=backend.waiting.now_s,
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


def usb_hand(
    layout: str, backend: SimulatedBackend, serial: str, seed: int, options: Mapping[str, object]
) -> UsbHand:
    """The device of a layout, plugged in."""
    if layout == "head":
        return HeadHand(backend, serial, seed, **options)  # type: ignore[arg-type]
    return GaugeHand(backend, serial, seed, **options)  # type: ignore[arg-type]
