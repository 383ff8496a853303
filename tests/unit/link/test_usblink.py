"""The link to a USB device, with pyusb's own calls over simulated devices."""

from __future__ import annotations

import struct
import threading
import time
from collections.abc import Iterator
from dataclasses import replace

import pytest

from acquire.driverapi import UsbNeeds
from acquire.errors import LinkLost
from acquire.link.usblink import UsbLink, UsbOpener
from acquire.model import LinkAddress
from acquire.wire.transfer import (
    Description,
    Pipe,
    Status,
    Transfer,
    TransferReader,
    bulk_in,
    record,
    setup,
)
from simulators.usb.backend import SimulatedBackend
from simulators.usb.behaviour import Stall
from simulators.usb.descriptors import INTERRUPT, Configuration, Endpoint, Interface
from simulators.usb.loopback import (
    BULK_IN,
    BULK_OUT,
    INTERRUPT_IN,
    LoopbackDevice,
    loopback,
    loopback_interface,
)
from simulators.usb.waiting import HurriedWaiting

NEEDS = UsbNeeds(0xFF, 1, 2)
ADDRESS = LinkAddress(identity={"vid": "ffff", "serial_number": "LB-1"})


class Bench:
    """A bus and the links that were opened on it."""

    def __init__(self, backend: SimulatedBackend) -> None:
        self.backend = backend
        self.links: list[UsbLink] = []

    def plug(self, **how: object) -> LoopbackDevice:
        device = loopback(**how)  # type: ignore[arg-type]
        self.backend.plug(device)
        return device

    def open(self, needs: UsbNeeds = NEEDS) -> UsbLink:
        link = UsbOpener(ADDRESS, needs, self.backend).open()
        self.links.append(link)
        return link


@pytest.fixture
def bench() -> Iterator[Bench]:
    """On a bus where nobody sits out a timeout."""
    one = Bench(SimulatedBackend(HurriedWaiting()))
    yield one
    for link in one.links:
        link.close()
    assert one.backend.open_handles == 0


@pytest.fixture
def slow_bench() -> Iterator[Bench]:
    """On a bus that keeps the computer's time."""
    one = Bench(SimulatedBackend())
    yield one
    for link in one.links:
        link.close()
    assert one.backend.open_handles == 0


def results(data: bytes) -> list[tuple[Pipe, Status, bytes]]:
    reader = TransferReader()
    found: list[Transfer] = reader.feed(data)
    assert not reader.fault
    assert reader.waiting_bytes == 0
    return [(t.pipe, t.status, t.data) for t in found]


def asked(link: UsbLink, *records: bytes) -> list[tuple[Pipe, Status, bytes]]:
    link.write(b"".join(records))
    return results(link.read(0.0))


def opened(bench: Bench, needs: UsbNeeds = NEEDS) -> UsbLink:
    link = bench.open(needs)
    link.read(0.0)
    return link


def test_the_first_record_describes_the_device(bench: Bench) -> None:
    bench.plug()
    link = bench.open()
    ((pipe, status, data),) = results(link.read(0.0))
    assert (pipe, status) == (Pipe.OPENED, Status.DONE)
    assert Description.from_bytes(data) == Description(
        0, BULK_OUT, BULK_IN, INTERRUPT_IN, 8, 64, "LB-1"
    )
    assert (link.where, link.adapter) == ("usb ffff:0001", "LB-1")


def test_a_fast_pipe_of_several_packets_at_once_is_read_packet_by_packet(bench: Bench) -> None:
    # USB 2.0, table 9-13: bits 12 and 11 are the further packets a microframe, here one.
    fast = Endpoint(INTERRUPT_IN, INTERRUPT, (1 << 11) | 8, 1)
    device = bench.plug(configurations=(Configuration((Interface(0, 0xFF, 1, 2, (fast,)),)),))
    link = bench.open()
    ((_, _, data),) = results(link.read(0.0))
    assert Description.from_bytes(data).packet_bytes == 8
    device.behaviour.interrupts.append(b"\x01\x02")
    assert results(link.read(1.0)) == [(Pipe.INTERRUPT_IN, Status.DONE, b"\x01\x02")]


def test_transfers_are_carried_out_in_order_and_their_results_come_in_order(bench: Bench) -> None:
    bench.plug()
    link = opened(bench)
    assert asked(
        link,
        record(Pipe.BULK_OUT, b"one"),
        record(Pipe.BULK_OUT, bytes(100)),
        setup(0xA1, 1, 0x0102, 0, 4),
        bulk_in(512),
        bulk_in(512),
    ) == [
        (Pipe.CONTROL, Status.DONE, struct.pack("<BBHHH", 0xA1, 1, 0x0102, 0, 4) + b"\x02\x01\0\0"),
        (Pipe.BULK_IN, Status.DONE, b"one"),
        (Pipe.BULK_IN, Status.DONE, bytes(100)),
    ]


def test_a_transfer_may_be_asked_for_in_pieces(bench: Bench) -> None:
    bench.plug()
    link = opened(bench)
    for byte in record(Pipe.BULK_OUT, b"abc") + bulk_in(64):
        link.write(bytes((byte,)))
    assert results(link.read(0.0)) == [(Pipe.BULK_IN, Status.DONE, b"abc")]


def test_a_request_that_goes_out_carries_its_bytes(bench: Bench) -> None:
    device = bench.plug()
    link = opened(bench)
    ((pipe, status, data),) = asked(link, setup(0x21, 9, 0x0200, 0, 0, b"\x05\x06"))
    assert (pipe, status, data) == (Pipe.CONTROL, Status.DONE, bytes.fromhex("2109000200000200"))
    ((kept, body),) = device.behaviour.kept
    assert (kept.request, kept.length, body) == (9, 2, b"\x05\x06")


def test_transfers_of_no_bytes_are_transfers(bench: Bench) -> None:
    device = bench.plug()
    link = opened(bench)
    head = struct.pack("<BBHHH", 0x21, 10, 0, 0, 0)
    assert asked(link, setup(0x21, 10, 0, 0, 0)) == [(Pipe.CONTROL, Status.DONE, head)]
    assert device.behaviour.kept[0][1] == b""
    head = struct.pack("<BBHHH", 0xA1, 1, 5, 0, 0)
    assert asked(link, setup(0xA1, 1, 5, 0, 0)) == [(Pipe.CONTROL, Status.DONE, head)]


def test_an_empty_transfer_is_a_result_too(bench: Bench) -> None:
    bench.plug()
    link = opened(bench)
    assert asked(link, record(Pipe.BULK_OUT), bulk_in(64)) == [(Pipe.BULK_IN, Status.DONE, b"")]


def test_packets_of_the_interrupt_pipe_come_without_being_asked_for(bench: Bench) -> None:
    device = bench.plug()
    link = opened(bench)
    with device.touched():
        device.behaviour.interrupts.extend([b"\x81\x41", b"\x01\x02\x03"])
    assert results(link.read(1.0) + link.read(1.0)) == [
        (Pipe.INTERRUPT_IN, Status.DONE, b"\x81\x41"),
        (Pipe.INTERRUPT_IN, Status.DONE, b"\x01\x02\x03"),
    ]
    assert link.read(1.0) == b""


def test_a_driver_that_does_not_listen_gets_no_packets(bench: Bench) -> None:
    device = bench.plug()
    link = opened(bench, replace(NEEDS, listens=False))
    device.behaviour.interrupts.append(b"\x81\x41")
    assert link.read(0.01) == b""


def test_a_transfer_that_takes_too_long_is_told(bench: Bench) -> None:
    device = bench.plug()
    link = opened(bench, replace(NEEDS, timeout_s=0.5))
    began_s = bench.backend.waiting.now_s()
    assert asked(link, bulk_in(64)) == [(Pipe.BULK_IN, Status.TIMED_OUT, b"")]
    assert bench.backend.waiting.now_s() - began_s == pytest.approx(0.5)
    device.behaviour.answers_control = False
    head = struct.pack("<BBHHH", 0xA1, 1, 0, 0, 4)
    assert asked(link, setup(0xA1, 1, 0, 0, 4)) == [(Pipe.CONTROL, Status.TIMED_OUT, head)]
    device.behaviour.takes_packets = 0
    assert asked(link, record(Pipe.BULK_OUT, b"x")) == [(Pipe.BULK_OUT, Status.TIMED_OUT, bytes(4))]


def test_what_came_before_the_time_was_over_is_not_lost(bench: Bench) -> None:
    device = bench.plug()
    link = opened(bench)
    device.behaviour.waiting.append(bytes(64))
    ((_, status, data),) = asked(link, bulk_in(512))
    assert (status, data) == (Status.DONE, bytes(64))
    device.behaviour.takes_packets = 1
    assert asked(link, record(Pipe.BULK_OUT, bytes(100))) == [
        (Pipe.BULK_OUT, Status.TIMED_OUT, (64).to_bytes(4, "big"))
    ]


def test_a_request_that_is_refused_is_told_and_the_next_one_goes_through(bench: Bench) -> None:
    bench.plug()
    link = opened(bench)
    head = struct.pack("<BBHHH", 0xC0, 1, 0, 0, 4)
    assert asked(link, setup(0xC0, 1, 0, 0, 4), setup(0xA1, 1, 7, 0, 2))[0] == (
        Pipe.CONTROL,
        Status.STALLED,
        head,
    )


def test_a_halted_pipe_refuses_until_the_driver_clears_it(bench: Bench) -> None:
    device = bench.plug()
    link = opened(bench)
    device.halted |= {BULK_IN, BULK_OUT}
    assert asked(link, record(Pipe.BULK_OUT, b"x"), bulk_in(64)) == [
        (Pipe.BULK_OUT, Status.STALLED, bytes(4)),
        (Pipe.BULK_IN, Status.STALLED, b""),
    ]
    clear = [record(Pipe.CLEAR, bytes((pipe,))) for pipe in (Pipe.BULK_OUT, Pipe.BULK_IN)]
    assert asked(link, *clear, record(Pipe.BULK_OUT, b"x"), bulk_in(64)) == [
        (Pipe.BULK_IN, Status.DONE, b"x")
    ]


def test_a_halted_interrupt_pipe_is_told_and_cleared_by_itself(bench: Bench) -> None:
    device = bench.plug()
    link = opened(bench)
    device.halted.add(INTERRUPT_IN)
    assert results(link.read(1.0)) == [(Pipe.INTERRUPT_IN, Status.STALLED, b"")]
    device.behaviour.interrupts.append(b"\x81\x41")
    assert results(link.read(1.0)) == [(Pipe.INTERRUPT_IN, Status.DONE, b"\x81\x41")]


def test_a_pipe_that_the_interface_does_not_have_fails_and_nothing_else_does(bench: Bench) -> None:
    bare = Interface(0, 0xFF, 1, 2)
    bench.plug(configurations=(Configuration((bare,)),))
    link = opened(bench)
    assert asked(link, record(Pipe.BULK_OUT, b"x"), bulk_in(8), record(Pipe.CLEAR, b"\x01")) == [
        (Pipe.BULK_OUT, Status.FAILED, bytes(4)),
        (Pipe.BULK_IN, Status.FAILED, b""),
    ]


def test_an_answer_longer_than_was_asked_for_fails_and_is_not_cut(bench: Bench) -> None:
    bench.plug()
    link = opened(bench)
    assert asked(link, record(Pipe.BULK_OUT, bytes(20)), bulk_in(10)) == [
        (Pipe.BULK_IN, Status.FAILED, b"")
    ]


def test_what_is_no_record_of_a_transfer_is_the_drivers_fault(bench: Bench) -> None:
    bench.plug()
    link = opened(bench)
    with pytest.raises(LinkLost, match="what is no transfer") as error:
        link.write(b"*IDN?\n")
    assert "report it to whoever wrote the driver" in error.value.next_step


@pytest.mark.parametrize(
    "odd",
    [
        record(Pipe.BULK_IN, b"\x01"),
        record(Pipe.CONTROL, b"\x80"),
        record(Pipe.CLEAR),
        record(Pipe.CLEAR, b"\x09"),
        record(Pipe.INTERRUPT_IN, b"x"),
        record(Pipe.OPENED),
    ],
)
def test_a_record_that_asks_for_nothing_a_link_does_is_the_drivers_fault_too(
    bench: Bench, odd: bytes
) -> None:
    bench.plug()
    link = opened(bench)
    with pytest.raises(LinkLost, match="what is no transfer"):
        link.write(odd)


def test_cancel_ends_the_read_that_waits(slow_bench: Bench) -> None:
    slow_bench.plug()
    for needs in (NEEDS, replace(NEEDS, listens=False)):
        link = opened(slow_bench, needs)
        canceller = threading.Timer(0.02, link.cancel)
        canceller.start()
        began = time.monotonic()
        assert link.read(60.0) == b""
        assert time.monotonic() - began < 10.0
        canceller.join()
        link.close()


def test_cancel_ends_the_next_read_if_none_waits(bench: Bench) -> None:
    bench.plug()
    link = opened(bench)
    link.cancel()
    began_s = bench.backend.waiting.now_s()
    assert link.read(60.0) == b""
    assert bench.backend.waiting.now_s() == began_s
    assert link.read(1.0) == b""
    assert bench.backend.waiting.now_s() - began_s == pytest.approx(1.0, abs=0.01)


def test_a_packet_is_read_while_the_link_waits(slow_bench: Bench) -> None:
    device = slow_bench.plug()
    link = opened(slow_bench)

    def press() -> None:
        with device.touched():
            device.behaviour.interrupts.append(b"\x81\x41")

    finger = threading.Timer(0.02, press)
    finger.start()
    assert results(link.read(60.0)) == [(Pipe.INTERRUPT_IN, Status.DONE, b"\x81\x41")]
    finger.join()


def test_close_gives_the_interface_free_and_the_systems_driver_back(bench: Bench) -> None:
    device = bench.plug(system_takes=frozenset({0}))
    link = bench.open()
    assert device.kernel_drivers == set()
    assert list(device.claims) == [0]
    link.close()
    link.close()
    assert device.kernel_drivers == {0}
    assert device.claims == {}
    assert bench.backend.open_handles == 0
    for act in (lambda: link.read(0.0), lambda: link.write(record(Pipe.BULK_OUT, b"x"))):
        with pytest.raises(LinkLost, match="closed"):
            act()


def test_a_driver_of_the_system_that_was_not_there_is_not_put_there(bench: Bench) -> None:
    device = bench.plug()
    bench.open().close()
    assert device.kernel_drivers == set()


def test_a_device_without_a_configuration_is_given_one(bench: Bench) -> None:
    device = bench.plug(configured=False)
    link = opened(bench)
    assert device.configuration_value == 1
    assert asked(link, record(Pipe.BULK_OUT, b"x"), bulk_in(64)) == [
        (Pipe.BULK_IN, Status.DONE, b"x")
    ]


def test_an_interface_in_another_configuration_is_reached(bench: Bench) -> None:
    other = Configuration((Interface(0, 0x08, 6, 0x50),), 1)
    wanted = Configuration((loopback_interface(),), 2)
    device = bench.plug(configurations=(other, wanted))
    link = opened(bench)
    assert device.configuration_value == 2
    assert asked(link, record(Pipe.BULK_OUT, b"x"), bulk_in(64)) == [
        (Pipe.BULK_IN, Status.DONE, b"x")
    ]


def test_an_interface_in_another_setting_is_reached(bench: Bench) -> None:
    bare = Interface(0, 0xFF, 0, 0)
    bench.plug(configurations=(Configuration((bare, loopback_interface(0, 1))),))
    link = opened(bench)
    assert asked(link, record(Pipe.BULK_OUT, b"x"), bulk_in(64)) == [
        (Pipe.BULK_IN, Status.DONE, b"x")
    ]


def test_one_interface_of_several_is_used_and_the_others_stay_with_the_system(
    bench: Bench,
) -> None:
    keys = Interface(0, 3, 1, 1)
    device = bench.plug(
        configurations=(Configuration((keys, loopback_interface(1))),),
        system_takes=frozenset({0, 1}),
    )
    link = opened(bench)
    assert device.kernel_drivers == {0}
    assert asked(link, setup(0xA1, 1, 3, 1, 4))[0][2][8:] == b"\x03\0\x01\0"
    link.close()
    assert device.kernel_drivers == {0, 1}


def test_a_pipe_that_never_stops_refusing_is_told_once_and_not_asked_without_a_pause(
    bench: Bench,
) -> None:
    device = bench.plug()
    link = opened(bench)

    def refuse(endpoint: int) -> bytes | None:
        asks.append(endpoint)
        raise Stall

    asks: list[int] = []
    device.behaviour.poll_interrupt_in = refuse  # type: ignore[method-assign]
    assert results(link.read(0.05)) == [(Pipe.INTERRUPT_IN, Status.STALLED, b"")]
    began = time.monotonic()
    assert link.read(0.2) == b""
    assert time.monotonic() - began > 0.15
    assert len(asks) <= 4


def test_a_driver_that_asks_for_more_than_any_transfer_holds_gets_what_one_holds(
    bench: Bench,
) -> None:
    bench.plug()
    link = opened(bench)
    assert asked(link, record(Pipe.BULK_OUT, b"x"), bulk_in(0xFFFFFFFF)) == [
        (Pipe.BULK_IN, Status.DONE, b"x")
    ]
