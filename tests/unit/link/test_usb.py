"""What is plugged in by USB, asked of a bus of simulated devices."""

from __future__ import annotations

from typing import Any

import pytest
import usb.core

from acquire.errors import LinkUnavailable
from acquire.link.usb import UsbIdentity, find_usb, identities, identity_of
from simulators.usb.backend import SimulatedBackend
from simulators.usb.behaviour import Dumb
from simulators.usb.descriptors import Configuration, Descriptors, Interface
from simulators.usb.device import SimulatedDevice
from simulators.usb.waiting import HurriedWaiting


def device(vid: int, pid: int, product: str | None, serial_number: str | None) -> SimulatedDevice:
    one = Configuration((Interface(0, 0xFF, 0, 0),))
    return SimulatedDevice(Descriptors(vid, pid, (one,), None, product, serial_number), Dumb())


def bus(*devices: SimulatedDevice) -> SimulatedBackend:
    backend = SimulatedBackend(HurriedWaiting())
    for one in devices:
        backend.plug(one)
    return backend


def test_devices_are_listed_by_identity_with_their_own_texts() -> None:
    backend = bus(
        device(0x1A2B, 0x0002, "pull gauge", None), device(0x1A2B, 0x0001, None, "SHORE1")
    )
    assert identities(backend) == [
        UsbIdentity("1a2b", "0001", "SHORE1", ""),
        UsbIdentity("1a2b", "0002", "", "pull gauge"),
    ]


def test_a_device_that_may_not_be_opened_is_listed_without_its_number() -> None:
    shut = device(0x1A2B, 0x0001, "meter", "SHORE1")
    backend = bus(shut)
    shut.permitted = False
    (one,) = identities(backend)
    assert one == UsbIdentity("1a2b", "0001", "", "")
    assert str(one) == "vid 1a2b, pid 0001, serial_number none that can be read"


def test_a_text_with_control_characters_is_not_shown() -> None:
    backend = bus(device(1, 2, "\x1b[2J", "A1"))
    assert identities(backend) == [UsbIdentity("0001", "0002", "A1", "")]


def test_a_text_that_is_no_text_is_not_shown() -> None:
    class Odd(Descriptors):
        def text(self, index: int) -> bytes | None:
            # Half a surrogate pair, and a table of languages that ends early.
            return b"\x04\x03\x00\xd8" if index else b"\x04\x03\x09\x04"

    one = SimulatedDevice(Odd(1, 2, (Configuration(()),), None, "x", "y"), Dumb())
    assert identities(bus(one)) == [UsbIdentity("0001", "0002", "", "")]


def test_a_device_that_was_looked_at_is_not_left_open() -> None:
    backend = bus(device(1, 2, "meter", "A1"), device(1, 3, "meter", "A2"))
    devices = list(usb.core.find(find_all=True, backend=backend))
    assert [identity_of(one).serial_number for one in devices] == ["A1", "A2"]
    assert backend.open_handles == 0
    found = find_usb({"serial_number": "A2"}, backend)
    assert found.idProduct == 3
    assert backend.open_handles == 0


def test_ids_are_the_same_in_capital_letters_and_no_key_fits_nothing() -> None:
    backend = bus(device(0x1A2B, 2, "meter", "A1"))
    assert find_usb({"vid": "1A2B"}, backend).idProduct == 2
    with pytest.raises(LinkUnavailable):
        find_usb({}, backend)


def test_an_unplugged_device_is_not_listed() -> None:
    one = device(1, 2, "meter", "A1")
    backend = bus(one)
    one.unplug()
    assert identities(backend) == []


def test_a_computer_that_cannot_be_asked_says_so() -> None:
    class Broken(SimulatedBackend):
        def enumerate_devices(self) -> Any:
            raise usb.core.USBError("Input/Output Error", -1, 5)

    with pytest.raises(LinkUnavailable, match="cannot be listed"):
        identities(Broken())
