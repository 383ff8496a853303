"""A USB device that goes while it is spoken to: what came is kept, and then the link is lost."""

from __future__ import annotations

import errno
import threading
from collections.abc import Iterator
from dataclasses import replace

import pytest

from acquire.driverapi import UsbNeeds
from acquire.errors import LinkLost
from acquire.link.usblink import UsbLink, UsbOpener
from acquire.model import LinkAddress
from acquire.wire.transfer import Pipe, Status, TransferReader, bulk_in, record, setup
from simulators.usb.backend import Handle, SimulatedBackend
from simulators.usb.errors import usb_error
from simulators.usb.loopback import LoopbackDevice, loopback
from simulators.usb.waiting import HurriedWaiting

NEEDS = UsbNeeds(0xFF, 1, 2)
ADDRESS = LinkAddress(identity={"vid": "ffff", "serial_number": "LB-1"})


@pytest.fixture
def backend() -> Iterator[SimulatedBackend]:
    one = SimulatedBackend(HurriedWaiting())
    yield one
    assert one.open_handles == 0


def opened(backend: SimulatedBackend) -> tuple[LoopbackDevice, UsbLink]:
    device = loopback()
    backend.plug(device)
    link = UsbOpener(ADDRESS, NEEDS, backend).open()
    link.read(0.0)
    return device, link


def listen(link: UsbLink, timeout_s: float) -> bytes:
    """Everything that comes until the link is lost."""
    came = b""
    while True:
        try:
            came += link.read(timeout_s)
        except LinkLost as lost:
            if "is gone" not in str(lost):
                raise
            return came


def statuses(data: bytes) -> list[tuple[Pipe, Status]]:
    return [(t.pipe, t.status) for t in TransferReader().feed(data)]


def test_what_came_before_the_unplug_is_read_first(backend: SimulatedBackend) -> None:
    device, link = opened(backend)
    link.write(record(Pipe.BULK_OUT, b"x") + bulk_in(64))
    device.unplug()
    assert statuses(link.read(1.0)) == [(Pipe.BULK_IN, Status.DONE)]
    assert listen(link, 1.0) == b"", "that it went is all there is to be told"
    with pytest.raises(LinkLost) as caught:
        link.read(1.0)
    assert caught.value.what == "the USB device usb ffff:0001 is gone"
    assert "plug the device in" in caught.value.next_step
    link.close()


@pytest.mark.parametrize(
    "transfer",
    [bulk_in(64), record(Pipe.BULK_OUT, b"x"), setup(0xA1, 1, 0, 0, 2)],
    ids=["in", "out", "control"],
)
def test_a_transfer_to_a_device_that_went_loses_the_link(
    backend: SimulatedBackend, transfer: bytes
) -> None:
    device, link = opened(backend)
    device.unplug()
    link.write(transfer)
    assert [status for _, status in statuses(link.read(0.0))] == [Status.FAILED]
    for _ in range(2):
        with pytest.raises(LinkLost, match="is gone"):
            link.read(0.0)
        with pytest.raises(LinkLost, match="is gone"):
            link.write(transfer)
    link.close()


def test_the_transfers_after_the_one_that_lost_the_device_are_not_tried(
    backend: SimulatedBackend,
) -> None:
    device, link = opened(backend)
    device.unplug()
    with pytest.raises(LinkLost, match="is gone"):
        link.write(record(Pipe.BULK_OUT, b"x") + bulk_in(64))
    link.close()


def test_a_device_that_goes_while_the_link_listens_loses_it_at_once() -> None:
    backend = SimulatedBackend()
    device, link = opened(backend)
    hand = threading.Timer(0.02, device.unplug)
    hand.start()
    assert listen(link, 60.0) == b"", "its pipe was not broken"
    hand.join()
    link.close()


def test_a_device_that_goes_is_missed_also_by_a_link_that_does_not_listen() -> None:
    backend = SimulatedBackend()
    device = loopback()
    backend.plug(device)
    link = UsbOpener(ADDRESS, replace(NEEDS, listens=False), backend).open()
    link.read(0.0)
    assert link.read(0.01) == b""
    device.unplug()
    assert listen(link, 60.0) == b""
    assert not device.behaviour.kept, "it was not spoken to beyond what every device answers"
    link.close()


def test_a_device_that_came_back_is_opened_anew(backend: SimulatedBackend) -> None:
    device, link = opened(backend)
    device.unplug()
    backend.plug(device)
    listen(link, 1.0)
    link.close()
    again = UsbOpener(ADDRESS, NEEDS, backend).open()
    again.read(0.0)
    again.write(record(Pipe.BULK_OUT, b"x") + bulk_in(64))
    assert statuses(again.read(0.0)) == [(Pipe.BULK_IN, Status.DONE)]
    again.close()


def test_another_device_in_its_place_is_not_spoken_to(backend: SimulatedBackend) -> None:
    device, link = opened(backend)
    device.unplug()
    other = loopback("LB-2")
    backend.plug(other)
    with pytest.raises(LinkLost):
        link.write(record(Pipe.BULK_OUT, b"x") + record(Pipe.BULK_OUT, b"x"))
    link.close()
    assert not other.behaviour.waiting


class Odd(SimulatedBackend):
    """Answers every transfer that comes in with an error of its own."""

    def __init__(self, error: Exception) -> None:
        super().__init__(HurriedWaiting())
        self.error: Exception | None = error

    def bulk_read(self, dev_handle: Handle, ep: int, intf: int, buff: object, timeout: int) -> int:
        assert self.error is not None
        raise self.error

    intr_read = bulk_read


@pytest.mark.parametrize(
    "error", [usb_error(errno.EINVAL), NotImplementedError("not supported"), ValueError("odd")]
)
def test_an_error_nobody_knows_fails_the_transfer_and_no_more(error: Exception) -> None:
    backend = Odd(error)
    _, link = opened(backend)
    link.write(bulk_in(64))
    assert statuses(link.read(0.0)) == [(Pipe.BULK_IN, Status.FAILED)]
    link.close()
    assert backend.open_handles == 0


def test_a_pipe_that_is_broken_while_the_device_is_there_is_told_once() -> None:
    _, link = opened(Odd(usb_error(errno.EINVAL)))
    assert statuses(link.read(1.0)) == [(Pipe.INTERRUPT_IN, Status.FAILED)]
    assert link.read(1.0) == b""
    link.close()
