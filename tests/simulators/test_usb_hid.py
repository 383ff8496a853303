"""HID devices on the bus: report descriptors, reports, and the physics of what they weigh.

From USB HID 1.11 and the HID Usage Tables (usb.org); the host here is pyusb and a few lines. The
parser of report descriptors below follows HID 1.11, 6.2.2, and is no driver of ours.
"""

from __future__ import annotations

import errno
import struct
from typing import Any

import pytest
import usb.core

from simulators.usb.backend import SimulatedBackend
from simulators.usb.faults import Spoilt
from simulators.usb.hid import INTERRUPT_IN
from simulators.usb.keyboard import DESCRIPTOR
from simulators.usb.load import Pull, Weight
from simulators.usb.scales import TypingDevice, WeighingGauge, typing_device, weighing_gauge
from simulators.usb.waiting import STEP_S, HurriedWaiting
from simulators.usb.weighing import (
    AT_ZERO,
    FAULT,
    GRAM,
    IN_MOTION,
    KILOGRAM,
    OVER_LIMIT,
    STABLE,
    UNDER_ZERO,
    weighing_descriptor,
)


class Host:
    def __init__(self, step_s: float = STEP_S, **how: Any) -> None:
        self.waiting = HurriedWaiting()
        self.backend = SimulatedBackend(self.waiting, step_s)
        self.gauge: WeighingGauge = weighing_gauge(
            "SG-0031", seed=3, now_s=self.waiting.now_s, **how
        )
        self.dev = self.plug(self.gauge)

    def plug(self, device: WeighingGauge | TypingDevice) -> Any:
        self.backend.plug(device)
        dev = usb.core.find(backend=self.backend, idProduct=device.descriptors.pid)
        dev.detach_kernel_driver(0)
        return dev

    def report(self) -> bytes:
        return bytes(self.dev.read(INTERRUPT_IN, 8, 1000))

    def read(self) -> tuple[int, float]:
        """Status and grams of the next report."""
        report = self.report()
        number, status, unit, exponent = struct.unpack_from("<BBBb", report)
        assert number == 3
        scale = {GRAM: 1.0, KILOGRAM: 1000.0}[unit]
        return status, int.from_bytes(report[4:], "little") * 10.0**exponent * scale

    def settled(self, load: Weight) -> tuple[int, float]:
        self.gauge.put(load)
        self.waiting.wait(None, 3.0)  # type: ignore[arg-type]
        self.read()
        return self.read()


@pytest.fixture
def host() -> Host:
    return Host()


def items(descriptor: bytes) -> list[tuple[int, bytes]]:
    """Short items: tag and type in the upper six bits, size in the lower two (HID 1.11, 6.2.2)."""
    found, at = [], 0
    while at < len(descriptor):
        size = (0, 1, 2, 4)[descriptor[at] & 3]
        found.append((descriptor[at] & 0xFC, descriptor[at + 1 : at + 1 + size]))
        at += 1 + size
    assert at == len(descriptor)
    return found


def input_bits(descriptor: bytes) -> int:
    """Bits of all input fields of the report 3, or of a device without report numbers."""
    bits = size = count = number = 0
    for tag, data in items(descriptor):
        value = int.from_bytes(data, "little")
        if tag == 0x74:
            size = value
        elif tag == 0x94:
            count = value
        elif tag == 0x84:
            number = value
        elif tag == 0x80 and number in (0, 3):
            bits += size * count
    return bits


@pytest.mark.parametrize("descriptor", [weighing_descriptor(2), weighing_descriptor(4), DESCRIPTOR])
def test_a_report_descriptor_is_whole_and_its_collections_close(descriptor: bytes) -> None:
    depth = 0
    for tag, _ in items(descriptor):
        depth += {0xA0: 1, 0xC0: -1}.get(tag, 0)
        assert depth >= 0
    assert depth == 0


def test_a_report_has_the_bits_that_the_descriptor_says(host: Host) -> None:
    got = bytes(host.dev.ctrl_transfer(0x81, 6, 0x2200, 0, 255))
    assert got == weighing_descriptor(2)
    assert len(host.report()) == 1 + input_bits(got) // 8 == 6
    assert len(Host(weight_bytes=4).report()) == 1 + input_bits(weighing_descriptor(4)) // 8 == 8
    assert input_bits(DESCRIPTOR) == 64


def test_the_class_descriptor_follows_the_interface_and_comes_when_asked_for(host: Host) -> None:
    got = bytes(host.dev.ctrl_transfer(0x81, 6, 0x2100, 0, 9))
    # HID 1.11, 6.2.1: length, type 21h, release 1.11, country, count, type 22h, its length.
    length = struct.pack("<H", len(weighing_descriptor(2)))
    assert got == bytes.fromhex("09 21 11 01 00 01 22") + length
    (interface,) = host.dev[0]
    assert bytes(interface.extra_descriptors) == got
    assert (interface.bInterfaceClass, interface.bInterfaceSubClass) == (3, 0)


def test_a_weight_by_hand(host: Host) -> None:
    # 500.0 g: unit 2 (52h, gram), exponent -1 (FFh), 5000 = 1388h; status 4 (74h, weight stable).
    host.gauge.gauge._noise_g = 0.0
    host.settled(Weight(500.0))
    assert host.report() == bytes.fromhex("03 04 02 ff 88 13")
    assert bytes(host.dev.ctrl_transfer(0xA1, 1, 0x0103, 0, 6)) == bytes.fromhex("030402ff8813")


def test_a_weight_moves_then_stands_then_is_gone(host: Host) -> None:
    assert host.read() == (AT_ZERO, 0.0)
    host.gauge.put(Weight(500.0))
    host.read()
    status, grams = host.read()
    assert status == IN_MOTION
    assert 0 < grams < 500
    assert host.settled(Weight(500.0)) == (STABLE, pytest.approx(500.0, abs=0.15))
    assert host.settled(Weight(0.0, before_g=500.0))[0] == AT_ZERO


def test_what_pulls_the_other_way_and_what_is_too_much_are_told(host: Host) -> None:
    assert host.settled(Weight(-12.0)) == (UNDER_ZERO, pytest.approx(12.0, abs=0.15))
    assert host.settled(Weight(2500.0)) == (OVER_LIMIT, 0.0)
    host.gauge.gauge.broken = True
    assert host.settled(Weight(10.0)) == (FAULT, 0.0)


def test_zero_comes_from_the_key_and_from_the_host(host: Host) -> None:
    host.settled(Weight(50.0))
    host.gauge.zero()
    assert host.settled(Weight(50.0))[1] == pytest.approx(0.0, abs=0.15)
    host.settled(Weight(80.0))
    host.dev.ctrl_transfer(0x21, 9, 0x0302, 0, b"\x02\x03")
    assert host.settled(Weight(80.0))[1] == pytest.approx(0.0, abs=0.15)
    assert bytes(host.dev.ctrl_transfer(0xA1, 1, 0x0302, 0, 2)) == b"\x02\x02"


def test_span_and_drift_show(host: Host) -> None:
    host.gauge.gauge.span = 1.02
    assert host.settled(Weight(500.0))[1] == pytest.approx(510.0, abs=0.15)
    host.gauge.gauge.span = 1.0
    host.gauge.gauge.drift_g_per_s = 0.5
    before = host.settled(Weight(100.0))[1]
    assert host.settled(Weight(100.0))[1] - before == pytest.approx(0.5 * 3.2, abs=0.3)


def test_other_units_and_steps() -> None:
    host = Host(unit=KILOGRAM, exponent=-3, noise_g=0.0)
    host.settled(Weight(500.0))
    assert host.report() == bytes.fromhex("03 04 03 fd f4 01")


def test_reports_come_at_their_pace_and_what_was_not_fetched_is_not_kept(host: Host) -> None:
    host.report()
    began_s = host.waiting.now_s()
    for _ in range(10):
        host.report()
    assert host.waiting.now_s() - began_s == pytest.approx(1.0, abs=0.02)
    host.waiting.wait(None, 5.0)  # type: ignore[arg-type]
    host.report()
    with pytest.raises(usb.core.USBTimeoutError):
        host.dev.read(INTERRUPT_IN, 8, 50)


def test_a_fast_gauge_on_a_fast_bus_reports_a_thousand_times_a_second() -> None:
    host = Host(step_s=0.001, interval_s=0.001)
    host.report()
    began_s = host.waiting.now_s()
    for _ in range(1000):
        host.report()
    assert host.waiting.now_s() - began_s == pytest.approx(1.0, rel=0.01)


def test_the_same_seed_gives_the_same_reports() -> None:
    one, two = Host(noise_g=1.0), Host(noise_g=1.0)
    assert [one.report() for _ in range(20)] == [two.report() for _ in range(20)]


def test_a_sled_breaks_free_and_slides_by_stick_and_slip() -> None:
    host = Host(interval_s=0.01, noise_g=0.0)
    pull = Pull(1000.0, dwell_s=9.0)
    assert pull.breakaway_g == pytest.approx(420.0)
    host.gauge.put(pull)
    trace = [host.read()[1] for _ in range(250)]
    assert max(trace) == pytest.approx(420.0, abs=5.0)
    sliding = trace[trace.index(max(trace)) + 3 : 250]
    assert sum(sliding) / len(sliding) == pytest.approx(300.0, abs=1.0)
    assert 3.0 < max(sliding) - min(sliding) < 6.0


def test_the_system_takes_every_hid_device_when_it_is_plugged_in(host: Host) -> None:
    host.gauge.unplug()
    host.backend.plug(host.gauge)
    assert host.gauge.kernel_drivers == {0}


def test_requests_nobody_knows_are_refused(host: Host) -> None:
    for kind, request, value, index in [
        (0xA1, 1, 0x0109, 0),
        (0x81, 6, 0x2300, 0),
        (0xA1, 7, 0, 0),
        (0xC1, 1, 0, 0),
    ]:
        with pytest.raises(usb.core.USBError) as error:
            host.dev.ctrl_transfer(kind, request, value, index, 8)
        assert error.value.errno == errno.EPIPE
    with pytest.raises(usb.core.USBError):
        host.dev.ctrl_transfer(0x21, 9, 0x0302, 0, b"\x02")
    host.dev.ctrl_transfer(0x21, 10, 0x0400, 0, None)
    assert bytes(host.dev.ctrl_transfer(0xA1, 2, 0, 0, 1)) == b"\x04"


@pytest.mark.parametrize("boot", [True, False])
def test_a_typing_device_is_a_keyboard_by_its_descriptor(host: Host, boot: bool) -> None:
    device = typing_device(boot=boot)
    dev = host.plug(device)
    (interface,) = dev[0]
    assert (interface.bInterfaceSubClass, interface.bInterfaceProtocol) == (boot, boot)
    descriptor = bytes(dev.ctrl_transfer(0x81, 6, 0x2200, 0, 255))
    assert descriptor[:4] == bytes.fromhex("05 01 09 06")  # generic desktop, keyboard
    device.type("1.0\n")
    keys = [bytes(dev.read(INTERRUPT_IN, 8, 100))[2] for _ in range(8)]
    assert keys == [0x1E, 0, 0x37, 0, 0x27, 0, 0x28, 0]


def test_faults_befall_reports_too() -> None:
    made: list[Spoilt] = []
    waiting = HurriedWaiting()

    def spoil(behaviour: Any) -> Any:
        made.append(Spoilt(behaviour, waiting.now_s))
        return made[0]

    host = Host(spoilt=spoil)
    made[0].add(INTERRUPT_IN, "short", "duplicate")
    assert len(host.report()) == 3
    second = host.report()
    assert host.report() == second
