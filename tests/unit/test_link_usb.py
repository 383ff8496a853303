"""What is plugged in by USB, asked of a backend that implements pyusb's interface."""

from __future__ import annotations

from array import array
from types import SimpleNamespace
from typing import Any

import pytest
import usb.backend
import usb.core

from acquire.errors import LinkUnavailable
from acquire.link.usb import UsbIdentity, identities

ENGLISH = 0x0409
_DESCRIPTOR = {
    "bLength": 18, "bDescriptorType": 1, "bcdUSB": 0x0200, "bDeviceClass": 0, "bDeviceSubClass": 0,
    "bDeviceProtocol": 0, "bMaxPacketSize0": 64, "bcdDevice": 0x0100, "iManufacturer": 0,
    "bNumConfigurations": 1, "address": 1, "bus": 1, "port_number": 1, "port_numbers": (1,),
    "speed": 3,
}  # fmt: skip


class Backend(usb.backend.IBackend):  # type: ignore[misc]
    """Devices as (vid, pid, product, serial number); None where a device has no such text."""

    def __init__(self, *devices: tuple[int, int, str | None, str | None], shut: bool = False):
        self._devices = devices
        self._shut = shut

    def enumerate_devices(self) -> Any:
        return iter(range(len(self._devices)))

    def get_device_descriptor(self, dev: int) -> Any:
        vid, pid, product, serial = self._devices[dev]
        return SimpleNamespace(
            **_DESCRIPTOR,
            idVendor=vid,
            idProduct=pid,
            iProduct=2 if product is not None else 0,
            iSerialNumber=3 if serial is not None else 0,
        )

    def open_device(self, dev: int) -> int:
        if self._shut:
            raise usb.core.USBError("Access denied (insufficient permissions)", -3, 13)
        return dev

    def close_device(self, dev_handle: int) -> None:
        pass

    def ctrl_transfer(
        self, handle: int, kind: int, request: int, value: int, index: int, data: Any, timeout: int
    ) -> int:
        number = value & 0xFF
        text = [None, None, *self._devices[handle][2:]][number] if number else None
        body = (text or "").encode("utf-16-le") if number else ENGLISH.to_bytes(2, "little")
        answer = array("B", [len(body) + 2, 3, *body])
        data[: len(answer)] = answer
        return len(answer)


def test_devices_are_listed_by_identity_with_their_own_texts() -> None:
    backend = Backend((0x1A2B, 0x0002, "pull gauge", None), (0x1A2B, 0x0001, None, "SHORE1"))
    assert identities(backend) == [
        UsbIdentity("1a2b", "0001", "SHORE1", ""),
        UsbIdentity("1a2b", "0002", "", "pull gauge"),
    ]


def test_a_device_that_may_not_be_opened_is_listed_without_its_number() -> None:
    backend = Backend((0x1A2B, 0x0001, "meter", "SHORE1"), shut=True)
    assert identities(backend) == [UsbIdentity("1a2b", "0001", "", "")]


def test_a_text_with_control_characters_is_not_shown() -> None:
    assert identities(Backend((1, 2, "\x1b[2J", "A1"))) == [UsbIdentity("0001", "0002", "A1", "")]


def test_a_computer_that_cannot_be_asked_says_so() -> None:
    class Broken(Backend):
        def enumerate_devices(self) -> Any:
            raise usb.core.USBError("Input/Output Error", -1, 5)

    with pytest.raises(LinkUnavailable, match="cannot be listed"):
        identities(Broken())
