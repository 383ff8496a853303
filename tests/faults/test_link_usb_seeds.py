"""Packets that are lost, cut, doubled, late or refused by a seed: results stay results.

Whatever befalls the packets, the link gives whole records, in the order of what was asked for, or
is lost; it raises nothing else, and a clean transfer after the trouble is a clean transfer.
"""

from __future__ import annotations

import pytest

from acquire.driverapi import UsbNeeds
from acquire.errors import LinkLost
from acquire.link.usblink import UsbOpener
from acquire.model import LinkAddress
from acquire.wire.transfer import Pipe, Status, TransferReader, bulk_in, record
from simulators.usb.backend import SimulatedBackend
from simulators.usb.device import SimulatedDevice
from simulators.usb.faults import CLEAN, KINDS, Spoilt, drawn
from simulators.usb.loopback import BULK_IN, Loopback, loopback
from simulators.usb.waiting import HurriedWaiting

NEEDS = UsbNeeds(0xFF, 1, 2, timeout_s=0.2)
ADDRESS = LinkAddress(identity={"vid": "ffff"})


@pytest.mark.parametrize("seed", range(40))
def test_a_link_over_bad_packets_gives_whole_records_in_order_or_is_lost(seed: int) -> None:
    waiting = HurriedWaiting()
    backend = SimulatedBackend(waiting)
    inner = Loopback()
    draw = drawn(seed, 0.3, KINDS if seed % 2 else [k for k in KINDS if k != "unplug"])
    spoilt = Spoilt(inner, waiting.now_s, draw=draw)
    device = SimulatedDevice(loopback().descriptors, spoilt)
    spoilt.unplug = device.unplug
    backend.plug(device)
    link = UsbOpener(ADDRESS, NEEDS, backend).open()
    reader = TransferReader()
    reader.feed(link.read(0.0))
    was_lost = False
    try:
        for length in (10, 64, 100, 300) * 3:
            inner.interrupts.append(bytes(2))
            link.write(record(Pipe.BULK_OUT, bytes(length)) + bulk_in(1024))
            results = reader.feed(link.read(0.1))
            assert not reader.fault
            assert reader.waiting_bytes == 0
            asked = [r for r in results if r.pipe is not Pipe.INTERRUPT_IN]
            # A transfer that went out whole has no result; the one that came in has one.
            assert [r.pipe for r in asked] == [Pipe.BULK_IN]
            if asked[0].status is Status.STALLED:
                link.write(record(Pipe.CLEAR, bytes((Pipe.BULK_IN,))))
            link.read(0.0)
    except LinkLost:
        was_lost = True
    assert was_lost == (not device.plugged)
    if device.plugged:
        device.clear_halt(BULK_IN)
        spoilt._draw = lambda: CLEAN
        spoilt._held.clear()
        inner.reset()
        link.write(record(Pipe.BULK_OUT, b"well again") + bulk_in(1024))
        (last,) = [r for r in reader.feed(link.read(0.0)) if r.pipe is Pipe.BULK_IN]
        assert (last.status, last.data) == (Status.DONE, b"well again")
    link.close()
    assert backend.open_handles == 0
