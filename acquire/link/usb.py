"""What is plugged in by USB, through pyusb (its only importer).

For now only a list of identities, so that a person can write a link into ``bench.toml``; no
instrument is driven over USB itself. Opens a device only to read its serial number. Any thread.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import usb.core

from acquire.errors import LinkUnavailable


class UsbIdentity(NamedTuple):
    """One device. `serial_number` is empty if it has none or if it may not be asked for it."""

    vid: str
    pid: str
    serial_number: str
    product: str


def identities(backend: Any = None) -> list[UsbIdentity]:
    """Every USB device, ordered by identity.

    `backend` is a `usb.backend.IBackend`; None takes libusb. Raises `LinkUnavailable` if the
    computer has no USB library or cannot be asked.
    """
    try:
        found = list(usb.core.find(find_all=True, backend=backend))
    except usb.core.NoBackendError:
        raise LinkUnavailable(
            "USB devices cannot be listed",
            got="no USB library on this computer",
            wanted="libusb 1.0",
            next_step="install libusb, or name the port in bench.toml",
        ) from None
    except usb.core.USBError as error:
        raise LinkUnavailable(
            "USB devices cannot be listed",
            got=str(error),
            next_step="look at the cable and the rights of your user",
        ) from error
    return sorted(
        UsbIdentity(
            f"{device.idVendor:04x}",
            f"{device.idProduct:04x}",
            _text(device, "serial_number"),
            _text(device, "product"),
        )
        for device in found
    )


def _text(device: Any, name: str) -> str:
    """A text of the device's own, or nothing where it has none or may not be opened."""
    try:
        text = getattr(device, name)
    except (usb.core.USBError, ValueError, NotImplementedError):
        return ""
    return text if isinstance(text, str) and text.isprintable() else ""
