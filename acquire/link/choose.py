"""Which opener an instrument needs: by what its driver speaks to. Pure."""

from __future__ import annotations

from acquire.driverapi import Needs, TypedNeeds, UsbNeeds
from acquire.errors import Misuse
from acquire.link.base import Opener
from acquire.link.serial import SerialOpener
from acquire.link.typed import TypedOpener
from acquire.model import LinkAddress


def opener_for(address: LinkAddress, needs: Needs) -> Opener:
    """The opener for an address of ``bench.toml``.

    Raises `Misuse` where a driver of typed entries has a port, or one that needs a port has none.
    """
    if isinstance(needs, TypedNeeds) != address.typed:
        raise Misuse(
            "the driver and the link in bench.toml do not go together",
            got="a driver that needs a port, with link = { typed = true }"
            if address.typed
            else f"a driver for what is typed by hand, with a link to {address}",
            wanted="link = { typed = true } with a driver such as keyed, and with no other",
            next_step="change driver or link of this instrument in bench.toml",
        )
    if isinstance(needs, TypedNeeds):
        return TypedOpener()
    if isinstance(needs, UsbNeeds):
        # libusb is looked for only where an instrument speaks USB itself.
        from acquire.link.usblink import UsbOpener  # noqa: PLC0415

        return UsbOpener(address, needs)
    return SerialOpener(address, needs)
