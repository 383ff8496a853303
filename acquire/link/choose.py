"""Which opener an instrument needs: by what its driver speaks to. Pure."""

from __future__ import annotations

from acquire.driverapi import Needs, UsbNeeds
from acquire.link.base import Opener
from acquire.link.serial import SerialOpener
from acquire.model import LinkAddress


def opener_for(address: LinkAddress, needs: Needs) -> Opener:
    """The opener for an address of ``bench.toml``."""
    if isinstance(needs, UsbNeeds):
        # libusb is looked for only where an instrument speaks USB itself.
        from acquire.link.usblink import UsbOpener  # noqa: PLC0415

        return UsbOpener(address, needs)
    return SerialOpener(address, needs)
