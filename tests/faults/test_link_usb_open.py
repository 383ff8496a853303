"""A USB device that cannot be opened is told in one message, with what to do next."""

from __future__ import annotations

import errno
from typing import Any

import pytest
import usb.core
import usb.util

from acquire.driverapi import UsbNeeds
from acquire.errors import LinkUnavailable
from acquire.link.usblink import UsbOpener
from acquire.model import LinkAddress
from simulators.usb.backend import Handle, SimulatedBackend
from simulators.usb.errors import usb_error
from simulators.usb.loopback import loopback
from simulators.usb.waiting import HurriedWaiting

NEEDS = UsbNeeds(0xFF, 1, 2)


def opening(backend: SimulatedBackend, needs: UsbNeeds = NEEDS, **identity: str) -> LinkUnavailable:
    with pytest.raises(LinkUnavailable) as caught:
        UsbOpener(LinkAddress(identity=identity), needs, backend).open()
    assert backend.open_handles == 0, "what could not be opened is not left open"
    return caught.value


@pytest.fixture
def backend() -> SimulatedBackend:
    return SimulatedBackend(HurriedWaiting())


def test_a_device_that_is_not_there(backend: SimulatedBackend) -> None:
    error = opening(backend, vid="ffff", pid="0001")
    assert error.got == "no such USB device"
    assert "plug the device in" in error.next_step


def test_another_device_of_the_same_kind_is_not_taken_for_it(backend: SimulatedBackend) -> None:
    backend.plug(loopback("LB-2"))
    error = opening(backend, vid="ffff", pid="0001", serial_number="LB-1")
    assert error.got == "vid ffff, pid 0001, serial_number LB-2"
    assert error.wanted == "exactly one"


def test_several_devices_that_fit(backend: SimulatedBackend) -> None:
    backend.plug(loopback("LB-1"))
    backend.plug(loopback("LB-2"))
    error = opening(backend, vid="ffff", pid="0001")
    assert error.what == "several USB devices are the device with vid ffff, pid 0001"
    assert "serial_number LB-1" in error.got
    assert "serial_number LB-2" in error.got
    assert "add serial_number to the link in bench.toml" in error.next_step


def test_two_devices_with_one_number_are_told_apart_by_nothing(backend: SimulatedBackend) -> None:
    backend.plug(loopback("LB-1"))
    backend.plug(loopback("LB-1"))
    error = opening(backend, serial_number="LB-1")
    assert error.what.startswith("several USB devices")
    assert "add serial_number" not in error.next_step


def test_a_device_that_may_not_be_opened(backend: SimulatedBackend) -> None:
    device = loopback()
    backend.plug(device)
    device.permitted = False
    error = opening(backend, vid="ffff", pid="0001")
    assert error.what == "usb ffff:0001 may not be opened"
    assert error.got == "no permission"
    # These are of the device itself, whose node is opened (udev(7): ATTR and not ATTRS).
    ids = 'ATTR{idVendor}=="ffff", ATTR{idProduct}=="0001"'
    assert f'SUBSYSTEM=="usb", {ids}, MODE="0660"' in error.next_step
    assert "/etc/udev/rules.d/" in error.next_step


def test_a_device_that_may_not_be_asked_for_its_number(backend: SimulatedBackend) -> None:
    device = loopback()
    backend.plug(device)
    device.permitted = False
    error = opening(backend, vid="ffff", pid="0001", serial_number="LB-1")
    assert "may not be opened does not tell its number" in error.got
    assert "udev rule" in error.next_step


def test_a_device_that_has_no_number_is_not_called_forbidden(backend: SimulatedBackend) -> None:
    backend.plug(loopback(None))
    error = opening(backend, vid="ffff", pid="0001", serial_number="LB-1")
    assert "may not be opened" not in error.got
    assert "udev" not in error.next_step
    assert "without serial_number" in error.next_step


def test_a_stranger_that_may_not_be_opened_is_named_only_if_it_could_be_the_one(
    backend: SimulatedBackend,
) -> None:
    stranger = loopback("X", pid=9)
    backend.plug(stranger)
    stranger.permitted = False
    error = opening(backend, vid="ffff", pid="0001", serial_number="LB-1")
    assert error.got == "no such USB device"


def test_a_device_that_another_program_has(backend: SimulatedBackend) -> None:
    backend.plug(loopback())
    other = usb.core.find(backend=backend)
    usb.util.claim_interface(other, 0)
    with pytest.raises(LinkUnavailable) as caught:
        UsbOpener(LinkAddress(identity={"vid": "ffff"}), NEEDS, backend).open()
    assert caught.value.what == "usb ffff:0001 is in use"
    assert "end the other program" in caught.value.next_step
    assert backend.open_handles == 1
    usb.util.dispose_resources(other)
    UsbOpener(LinkAddress(identity={"vid": "ffff"}), NEEDS, backend).open().close()


def test_a_device_with_another_interface(backend: SimulatedBackend) -> None:
    backend.plug(loopback())
    error = opening(backend, UsbNeeds(0xFE, 3, 1), vid="ffff")
    assert error.got == "class/subclass/protocol ff/01/02"
    assert error.wanted == "fe/03/01"
    assert "mend the driver or the profile" in error.next_step
    assert opening(backend, UsbNeeds(0xFE, 3), vid="ffff").wanted == "fe/03"


def test_an_address_of_a_port_is_not_tried_as_a_device(backend: SimulatedBackend) -> None:
    with pytest.raises(LinkUnavailable, match="is no USB device") as caught:
        UsbOpener(LinkAddress(port="/dev/ttyUSB0"), NEEDS, backend).open()
    assert "coatbench devices" in caught.value.next_step


class Contested(SimulatedBackend):
    """Somebody else is faster: the claim after the system's driver let go is refused."""

    def __init__(self, number: int) -> None:
        super().__init__(HurriedWaiting())
        self._number = number

    def claim_interface(self, dev_handle: Handle, intf: int) -> None:
        raise usb_error(self._number)


@pytest.mark.parametrize("number", [errno.EBUSY, errno.EACCES, errno.EINVAL])
def test_an_opening_that_fails_gives_the_systems_driver_back(number: int) -> None:
    backend = Contested(number)
    device = loopback(system_takes=frozenset({0}))
    backend.plug(device)
    opening(backend, vid="ffff")
    assert device.kernel_drivers == {0}


def test_a_device_that_goes_while_it_is_opened() -> None:
    class Going(SimulatedBackend):
        def claim_interface(self, dev_handle: Handle, intf: int) -> None:
            dev_handle.device.unplug()
            super().claim_interface(dev_handle, intf)

    backend = Going(HurriedWaiting())
    backend.plug(loopback())
    error = opening(backend, vid="ffff")
    assert error.what == "usb ffff:0001 went while it was opened"
    assert "plug the device in" in error.next_step


def test_a_system_that_knows_no_drivers_of_its_own_to_detach_opens_it_all_the_same() -> None:
    class Plain(SimulatedBackend):
        def is_kernel_driver_active(self, dev_handle: Handle, intf: int) -> Any:
            raise NotImplementedError

    backend = Plain(HurriedWaiting())
    backend.plug(loopback())
    UsbOpener(LinkAddress(identity={"vid": "ffff"}), NEEDS, backend).open().close()
    assert backend.open_handles == 0


def test_a_device_whose_descriptors_cannot_be_read() -> None:
    class Mute(SimulatedBackend):
        def get_configuration_descriptor(self, dev: Any, config: int) -> Any:
            raise usb_error(errno.EINVAL)

    backend = Mute(HurriedWaiting())
    backend.plug(loopback())
    error = opening(backend, vid="ffff")
    assert error.what == "usb ffff:0001 cannot be opened"
    assert "plug it in again" in error.next_step


def test_a_system_that_lets_no_program_have_the_device_says_what_it_lacks() -> None:
    class Closed(SimulatedBackend):
        def open_device(self, dev: Any) -> Handle:
            raise NotImplementedError("Operation not supported or unimplemented on this platform")

    backend = Closed(HurriedWaiting())
    backend.plug(loopback())
    error = opening(backend, vid="ffff")
    assert error.what == "usb ffff:0001 cannot be opened"
    assert "no driver through which a program may speak to it" in error.got
    assert "WinUSB" in error.next_step
