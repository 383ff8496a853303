"""The USB devices of `coatbench simulate` or of the demo, for a daemon in a process of its own."""

from __future__ import annotations

from collections.abc import Callable

from acquire.driverapi import Needs, UsbNeeds
from acquire.errors import Misuse
from acquire.link import Opener, opener_for
from acquire.link.usblink import UsbOpener
from acquire.model import LinkAddress
from simulators.usb.far_bus import FarBus


def bus_at(address: str) -> FarBus:
    """The simulated bus at ``HOST:PORT``. Raises `Misuse` for an address of another form."""
    try:
        return FarBus(address)
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
