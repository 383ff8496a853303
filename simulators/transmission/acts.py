"""What a hand can do with a band head, as acts of the control channel.

The list of acts with their arguments stands in the package's docstring. Never touches the port;
one thread.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from simulators.arguments import ActFault, Arguments
from simulators.bench import NAME, NAME_WANTED, Bench
from simulators.drifting import drift_by
from simulators.stand import Answer, Deed
from simulators.transmission.device import HeadDevice
from simulators.transmission.light import DARK, FILTER, GLASS, OPEN, Band, Coated, Flat, Piece
from simulators.usb.light import Slide


def read_piece(args: Arguments, bands: Iterable[Band]) -> Piece:
    """A slide, or with `percent` a piece of certified values. Raises ActFault."""
    names = [band.name for band in bands]
    name = args.text("name", NAME, NAME_WANTED)
    if args.has("percent"):
        piece: Piece = Flat(name, 0.0, args.by_name("percent", names, 0, 600))
    else:
        slide = read_slide(name, args)
        film = args.by_name("film", names, 0, 2) if args.has("film") else {}
        piece = Coated(slide, film)
    args.finish()
    return piece


def read_slide(name: str, args: Arguments) -> Slide:
    """The bare glass of a slide. Raises ActFault."""
    return Slide(
        name,
        args.number("clear", 0, 1, 0.92),
        args.number("edge_nm", 0, 2000, 320.0),
        args.number("edge_width_nm", 0.1, 200, 5.0),
    )


class HeadBench(Bench[HeadDevice]):
    """A head in the tester's hand, with all pieces within reach."""

    def __init__(self, make: Callable[[str], HeadDevice], serial: str) -> None:
        super().__init__(make, serial)
        self._pieces: dict[str, Piece] = {
            piece.name: piece for piece in (OPEN, DARK, FILTER, GLASS)
        }
        self._doings |= {
            "piece": self._piece,
            "place": self._place,
            "press": self._press,
            "wait": self._wait,
            "adjust": self._adjust,
            "drift": self._drift,
            "lamp": self._lamp,
        }

    def state(self) -> Answer:
        head = self.device.head
        return super().state() | {
            "shown": self.device.shown or None,
            "piece": head.piece.name,
            "lamp_works": head.lamp_works,
            "warm_s": head.warm_s,
            "brightness": head.brightness,
            "open_beam_set": head.open_beam_set,
            "count": head.count,
            "presses": head.presses,
        }

    def _piece(self, args: Arguments) -> Deed:
        piece = read_piece(args, self.device.bands)
        self._pieces[piece.name] = piece
        true = {band.name: piece.percent(band) for band in self.device.bands}
        return Deed({"pieces": list(self._pieces), "true": true})

    def _place(self, args: Arguments) -> Deed:
        piece = self._pieces[args.choice("piece", self._pieces)]
        args.finish()
        self.device.head.piece = piece
        return Deed()

    def _press(self, args: Arguments) -> Deed:
        args.finish()
        sent = self.device.press()
        last = self.device.last
        if last is None:
            return Deed({"count": None, "code": "OFF"})
        if last.code:
            failed = Deed({"count": last.count, "code": last.code}, sent)
            return self.battery.drain(self.device, failed)
        told = {"count": last.count, "shown": self.device.shown, "seen": dict(last.percent)}
        seen = Deed(told, sent)
        return self.battery.drain(self.device, seen)

    def _wait(self, args: Arguments) -> Deed:
        seconds = args.number("seconds", 0, 1e6)
        args.finish()
        self.device.head.wait(seconds)
        return Deed({"brightness": self.device.head.brightness})

    def _adjust(self, args: Arguments) -> Deed:
        args.finish()
        try:
            self.device.set_open_beam()
        except ValueError as fault:
            raise ActFault("adjust", str(fault), "the open beam of a head that works") from fault
        return Deed()

    def _drift(self, args: Arguments) -> Deed:
        drift_by(args, [self.device.head.lamp])
        return Deed()

    def _lamp(self, args: Arguments) -> Deed:
        self.device.head.lamp_works = args.flag("works")
        args.finish()
        return Deed()
