"""The spectral transmission head in the tester's hand: `usbtmc-head`, `usbtmc-counts`.

Acts: `piece`, `place`, `press`, `adjust`, `drift`, `lamp`, `cover`, and those of every USB device.
What they take says `simulators.transmission`; `cover` takes `open`. Any thread; every act is done
with the bus held.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from simulators.arguments import Arguments
from simulators.bench import NAME, NAME_WANTED
from simulators.transmission.acts import read_slide
from simulators.usb.backend import SimulatedBackend
from simulators.usb.hand import Answer, Spoiler, UsbHand
from simulators.usb.head import PRESS_S
from simulators.usb.light import OPEN, SHUTTER, Slide
from simulators.usb.tmc import BULK_IN
from simulators.usb.transmission import transmission_head

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


class HeadHand(UsbHand):
    """The spectral transmission head."""

    def __init__(
        self,
        backend: SimulatedBackend,
        spoiler: Spoiler,
        serial: str,
        seed: int,
        *,
        press_s: float = PRESS_S,
    ) -> None:
        head = transmission_head(
            serial,
            seed=seed,
            now_s=backend.now_s,
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
