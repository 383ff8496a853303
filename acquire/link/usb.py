"""What is plugged in by USB and how it is found, through pyusb.

Opens a device only to read its texts, or to try whether it may be opened. Any thread.
"""

from __future__ import annotations

import errno
from collections.abc import Mapping
from typing import Any, NamedTuple

import usb.core
import usb.util

from acquire.errors import LinkUnavailable
from acquire.link.diagnose import udev_step
from acquire.link.find import PLUG

KEYBOARD = "03/01/01"
"""Human interface device, boot interface, keyboard (USB HID 1.11, 4.1 to 4.3, from memory)."""
TYPES = "types its readings as a keyboard does"
UNTYPED = (
    "switch its USB output from keyboard to data, as its manual says, or set driver and profile to "
    "one with which readings are typed by hand"
)


_STATUS = (0x80, 0, 0, 0, 2)
"""Asks a device for its status, which changes nothing of it (USB 2.0, 9.4.5, from memory)."""


class UsbIdentity(NamedTuple):
    """One device. `serial_number` is empty if it has none or if it may not be asked for it."""

    vid: str
    pid: str
    serial_number: str
    product: str

    def __str__(self) -> str:
        number = self.serial_number or "none that can be read"
        return f"vid {self.vid}, pid {self.pid}, serial_number {number}"


def devices(backend: Any = None) -> list[Any]:
    """Every USB device as pyusb has it.

    `backend` is a `usb.backend.IBackend`; None takes libusb. Raises `LinkUnavailable` if the
    computer has no USB library or cannot be asked.
    """
    try:
        return list(usb.core.find(find_all=True, backend=backend))
    except usb.core.NoBackendError:
        raise LinkUnavailable(
            "USB devices cannot be listed",
            got="no USB library on this computer",
            wanted="libusb 1.0",
            next_step="install libusb 1.0 (on Debian and Ubuntu the package libusb-1.0-0); "
            "what is plugged in is then found by itself",
        ) from None
    except usb.core.USBError as error:
        raise LinkUnavailable(
            "USB devices cannot be listed",
            got=str(error),
            next_step="look at the cable and the rights of your user",
        ) from error


def identities(backend: Any = None) -> list[UsbIdentity]:
    """Every USB device, ordered by identity. Raises `LinkUnavailable`."""
    return sorted(map(identity_of, devices(backend)))


def identity_of(device: Any) -> UsbIdentity:
    """What a device says of itself."""
    return UsbIdentity(
        f"{device.idVendor:04x}",
        f"{device.idProduct:04x}",
        text_of(device, "serial_number"),
        text_of(device, "product"),
    )


def find_usb(wanted: Mapping[str, str], backend: Any = None) -> Any:
    """The one device that fits an identity of ``bench.toml``. Raises `LinkUnavailable`."""
    named = "device with " + ", ".join(f"{k} {v}" for k, v in wanted.items())
    ids = [device for device in devices(backend) if _has_ids(device, wanted)]
    number = wanted.get("serial_number")
    if number is None:
        fitting = ids
    else:
        fitting = [device for device in ids if text_of(device, "serial_number") == number]
    if len(fitting) == 1:
        return fitting[0]
    there = "; ".join(str(identity_of(device)) for device in ids) or "no such USB device"
    if fitting:
        raise LinkUnavailable(
            f"several USB devices are the {named}",
            got=there,
            wanted="exactly one",
            next_step="add serial_number to the link in bench.toml"
            if number is None
            else "leave one of them plugged in, or add its vid and pid to the link in bench.toml",
        )
    # A device that has no number is not one that hides it.
    hidden = [d for d in ids if d.iSerialNumber and not text_of(d, "serial_number")]
    if hidden and number is not None:
        raise LinkUnavailable(
            f"no USB device is known to be the {named}",
            got=f"{there}: a device that may not be opened does not tell its number",
            wanted="exactly one",
            next_step=usb_permission_step(hidden[0]),
        )
    next_step = PLUG
    if ids and all(not device.iSerialNumber for device in ids):
        next_step += "; one that has no number is named without serial_number in bench.toml"
    raise LinkUnavailable(
        f"no USB device is the {named}", got=there, wanted="exactly one", next_step=next_step
    )


def usb_permission_step(device: Any) -> str:
    """What lets a user open a USB device on Linux."""
    return udev_step(
        f'SUBSYSTEM=="usb", ATTR{{idVendor}}=="{device.idVendor:04x}", '
        f'ATTR{{idProduct}}=="{device.idProduct:04x}"',
        ("plugdev", "dialout", "uucp"),
    )


def _has_ids(device: Any, wanted: Mapping[str, str]) -> bool:
    have = {"vid": f"{device.idVendor:04x}", "pid": f"{device.idProduct:04x}"}
    # An identity without any key would fit whatever is plugged in first.
    return bool(wanted) and all(
        have[key] == value.lower() for key, value in wanted.items() if key in have
    )


def text_of(device: Any, name: str) -> str:
    """A text of the device's own, or nothing where it has none or may not be opened.

    The device is opened for it and closed again; one that is in use is not asked.
    """
    try:
        text = getattr(device, name)
    except (usb.core.USBError, ValueError, NotImplementedError):
        return ""
    finally:
        # pyusb would keep it open for as long as anybody, an error's traceback too, knows of it.
        usb.util.dispose_resources(device)
    return text if isinstance(text, str) and text.isprintable() else ""


def is_refused(device: Any) -> bool:
    """Whether this user may not open a device, by trying."""
    try:
        device.ctrl_transfer(*_STATUS)
    except usb.core.USBError as error:
        return error.errno in (errno.EACCES, errno.EPERM)
    finally:
        usb.util.dispose_resources(device)
    return False
