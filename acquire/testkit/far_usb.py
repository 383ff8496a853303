"""The USB devices of `coatbench simulate` or of the demo, for a daemon in a process of its own."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from acquire.driverapi import Needs, UsbNeeds
from acquire.errors import LinkUnavailable, Misuse
from acquire.link import Opener, opener_for
from acquire.link.usblink import UsbOpener
from acquire.model import LinkAddress
from simulators.usb.far_bus import FarBus, FarDevice


class ToldBus(FarBus):
    """A bus that says so when it does not answer: what is plugged in there is not known then."""

    def __init__(self, address: str) -> None:
        super().__init__(address)
        self.address = address

    def enumerate_devices(self) -> Iterator[FarDevice]:
        """What is plugged in. Raises `LinkUnavailable` where nobody answers."""
        try:
            return iter(self.listed())
        except OSError as error:
            raise LinkUnavailable(
                f"the simulated USB bus at {self.address} does not answer",
                next_step="start coatbench simulate, and give --simulated-usb the address that it "
                "tells then",
            ) from error


def bus_at(address: str) -> ToldBus:
    """The simulated bus at ``HOST:PORT``. Raises `Misuse` for an address of another form."""
    try:
        return ToldBus(address)
    except ValueError as error:
        raise Misuse(
            "this is no address of a simulated USB bus",
            got=repr(address),
            wanted="HOST:PORT",
            next_step="give the address that coatbench simulate has told",
        ) from error


def opener_on(address: str) -> Callable[[LinkAddress, Needs], Opener]:
    """Openers for a bench whose USB devices are on the simulated bus at ``HOST:PORT``.

    Raises `Misuse` for an address of another form.
    """
    bus = bus_at(address)

    def opener(wanted: LinkAddress, needs: Needs) -> Opener:
        if isinstance(needs, UsbNeeds):
            return UsbOpener(wanted, needs, bus)
        return opener_for(wanted, needs)

    return opener
