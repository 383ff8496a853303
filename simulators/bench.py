"""What a hand can do with every device: switch it, exchange it. The base of the acts of each kind.

Never touches the port; one thread.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Generic, Protocol, TypeVar

from simulators.arguments import Arguments
from simulators.stand import Answer, Deed

SERIAL_WANTED = "1 to 32 letters, digits, dots, dashes"
SERIAL = r"[A-Za-z0-9._-]{1,32}"
NAME = r"[^\x00-\x1f\x7f]{1,64}"
NAME_WANTED = "a name of 1 to 64 characters"


class Handheld(Protocol):
    """A device without a port, as far as every hand knows it.

    `end`, `flip` and `cut` are what `TroubledLine` wants to know of its messages; `least_gap_s` is
    how long its line is silent before a message.
    """

    layout: str
    end: bytes
    flip: int
    cut: Callable[[bytes], Iterable[bytes]] | None
    least_gap_s: float
    powered: bool

    @property
    def serial(self) -> str: ...

    def power(self, on: bool) -> bytes:
        """Switch; to switch on what is on does nothing."""
        ...

    def receive(self, data: bytes) -> bytes:
        """Bytes from the host; the whole messages that the device answers with."""
        ...


class Battery:
    """The charge of a device, in presses that are left; without end unless it is told."""

    def __init__(self) -> None:
        self.presses_left: int | None = None

    def read(self, args: Arguments) -> None:
        """Take the charge from an act."""
        self.presses_left = args.whole("presses", 0, 1_000_000)

    def drain(self, device: Handheld, deed: Deed) -> Deed:
        """A press goes by; with the last one the device goes off."""
        if self.presses_left is None or not device.powered:
            return deed
        self.presses_left -= 1
        if self.presses_left > 0:
            return deed
        device.power(False)
        self.presses_left = None
        return replace(deed, answer={**deed.answer, "battery": "empty"})


D = TypeVar("D", bound=Handheld)


class Bench(Generic[D]):
    """A device in the tester's hand. `make` gives a fresh one of the model by its serial number."""

    def __init__(self, make: Callable[[str], D], serial: str) -> None:
        self._make = make
        self.device = make(serial)
        self.battery = Battery()
        self._doings: dict[str, Callable[[Arguments], Deed]] = {
            "power": self._power,
            "swap": self._swap,
            "battery": self._battery,
        }

    @property
    def acts(self) -> tuple[str, ...]:
        return tuple(self._doings)

    def receive(self, data: bytes) -> bytes:
        return self.device.receive(data)

    def act(self, args: Arguments) -> Deed:
        return self._doings[args.act](args)

    def state(self) -> Answer:
        device = self.device
        return {"serial": device.serial, "layout": device.layout, "powered": device.powered}

    def _another(self, serial: str) -> D:
        """The one that takes its place, of the same model."""
        return self._make(serial)

    def _power(self, args: Arguments) -> Deed:
        on = args.flag("on")
        args.finish()
        return Deed(send=self.device.power(on), breaks_off=not on)

    def _battery(self, args: Arguments) -> Deed:
        self.battery.read(args)
        args.finish()
        return Deed()

    def _swap(self, args: Arguments) -> Deed:
        serial = args.text("serial", SERIAL, SERIAL_WANTED)
        hang_up = args.flag("hang_up", True)
        args.finish()
        self.device, self.battery = self._another(serial), Battery()
        if hang_up:
            # Switched on before it is plugged in: what it says at power-on nobody hears.
            return Deed({"serial": serial}, breaks_off=True, replug=True)
        self.device.power(False)
        return Deed({"serial": serial}, self.device.power(True), breaks_off=True)
