"""An interface of a USB device, held for this program alone, and everything put back at the end.

A device without a configuration is given the one that has the interface. A driver of the system
that has the interface is asked to let go and gets it back, also when the interface cannot be had
after all. Through pyusb. One thread.
"""

from __future__ import annotations

import contextlib
import errno
from typing import Any

import usb.core
import usb.util

from acquire.driverapi import UsbNeeds
from acquire.errors import LinkUnavailable
from acquire.link.find import PLUG
from acquire.link.usb import KEYBOARD, TYPES, UNTYPED, usb_permission_step

GONE = frozenset((errno.ENODEV, errno.ENXIO, errno.ESHUTDOWN, errno.EIO, errno.ENOENT))
"""What a system says of a device that was unplugged; which of them depends on the moment."""

_TROUBLES = (usb.core.USBError, NotImplementedError, ValueError)


class UsbClaim:
    """The interface that a driver needs, claimed. Raises `LinkUnavailable`, and holds nothing then.

    `device` is pyusb's, `interface` its interface, `number` that of the interface.
    """

    def __init__(self, device: Any, needs: UsbNeeds) -> None:
        self.where = f"usb {device.idVendor:04x}:{device.idProduct:04x}"
        self.device = device
        self.number = 0
        self._detached = False
        try:
            self.interface, value = self._found(needs)
            self.number = int(self.interface.bInterfaceNumber)
            self._configure(value)
            self._detach()
            usb.util.claim_interface(device, self.number)
            if self.interface.bAlternateSetting:
                device.set_interface_altsetting(self.interface)
        except _TROUBLES as error:
            self.give_back()
            raise self._unavailable(error) from error

    def give_back(self) -> None:
        """Let go of the interface and close the device; whatever is gone by then is let be."""
        with contextlib.suppress(*_TROUBLES):
            usb.util.release_interface(self.device, self.number)
        if self._detached:
            self._detached = False
            with contextlib.suppress(*_TROUBLES):
                self.device.attach_kernel_driver(self.number)
        with contextlib.suppress(*_TROUBLES):
            usb.util.dispose_resources(self.device)

    def _found(self, needs: UsbNeeds) -> tuple[Any, int]:
        """The interface, and the value of the configuration that has it."""
        there: list[str] = []
        for configuration in self.device:
            for interface in configuration:
                codes = (interface.bInterfaceClass, interface.bInterfaceSubClass)
                protocol = interface.bInterfaceProtocol
                if codes == (needs.interface_class, needs.interface_subclass) and (
                    needs.protocol in (None, protocol)
                ):
                    return interface, int(configuration.bConfigurationValue)
                there.append("{:02x}/{:02x}/{:02x}".format(*codes, protocol))
        if needs.interface_class == 0x03 and KEYBOARD in there:
            raise LinkUnavailable(
                f"{self.where} {TYPES}",
                got=f"class/subclass/protocol {', '.join(there)}, a keyboard's",
                wanted="an interface that reports figures",
                next_step=UNTYPED,
            )
        raise LinkUnavailable(
            f"{self.where} has not the interface that its driver speaks to",
            got=f"class/subclass/protocol {', '.join(there) or 'none'}",
            wanted=f"{needs.interface_class:02x}/{needs.interface_subclass:02x}"
            + ("" if needs.protocol is None else f"/{needs.protocol:02x}"),
            next_step="mend the driver or the profile of the instrument in bench.toml",
        )

    def _configure(self, value: int) -> None:
        """Have the configuration with the interface in use. One that is in use is not set again:
        that would reset what the device is doing."""
        try:
            active = int(self.device.get_active_configuration().bConfigurationValue)
        except usb.core.USBError as error:
            if error.errno is not None:
                raise
            active = 0  # pyusb's word for a device without one
        if active != value:
            self.device.set_configuration(value)

    def _detach(self) -> None:
        try:
            if self.device.is_kernel_driver_active(self.number):
                self.device.detach_kernel_driver(self.number)
                self._detached = True
        except NotImplementedError:
            pass  # a system without drivers that could be asked

    def _unavailable(self, error: Exception) -> LinkUnavailable:
        code = getattr(error, "errno", None)
        if code in (errno.EACCES, errno.EPERM):
            return LinkUnavailable(
                f"{self.where} may not be opened",
                got="no permission",
                next_step=usb_permission_step(self.device),
            )
        if code == errno.EBUSY:
            return LinkUnavailable(
                f"{self.where} is in use",
                got="another program has its interface",
                wanted="the device free",
                next_step="end the other program; this one tries again by itself",
            )
        if isinstance(error, NotImplementedError):
            return LinkUnavailable(
                f"{self.where} cannot be opened",
                got="no driver through which a program may speak to it",
                wanted="a general USB driver of the system for the device",
                next_step="on Windows give the device the system's driver WinUSB; elsewhere look "
                "for a libusb that knows this system",
            )
        if code in GONE:
            return LinkUnavailable(
                f"{self.where} went while it was opened", got=str(error), next_step=PLUG
            )
        return LinkUnavailable(
            f"{self.where} cannot be opened",
            got=str(error),
            next_step="unplug the device, plug it in again, and look at the link in bench.toml",
        )
