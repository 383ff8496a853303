"""HID devices to plug in: a gauge that reports weights, a keyboard that types them.

    gauge = weighing_gauge("SG-0031", seed=1, now_s=backend.waiting.now_s)
    backend.plug(gauge)
    gauge.put(Weight(500.0))

On plugging in the system's own driver takes either, as it takes every HID device.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

from simulators.usb.behaviour import Behaviour
from simulators.usb.device import SimulatedDevice
from simulators.usb.hid import Hid, hid_descriptors
from simulators.usb.keyboard import Keyboard
from simulators.usb.load import Load
from simulators.usb.weighing import Gauge

GAUGE_PID, KEYBOARD_PID = 0x0010, 0x0011
_SYSTEM = frozenset({0})


class WeighingGauge(SimulatedDevice):
    """What a hand can do to a gauge; each from any thread."""

    gauge: Gauge

    def put(self, load: Load) -> None:
        """Put a load on, in place of the one before."""
        with self.touched():
            self.gauge.put(load)

    def zero(self) -> None:
        """Press its zero key."""
        with self.touched():
            self.gauge.zero()


class TypingDevice(SimulatedDevice):
    """A device that types."""

    keyboard: Keyboard

    def type(self, text: str) -> None:
        """Let it type a reading."""
        with self.touched():
            self.keyboard.type(text)


def weighing_gauge(
    serial_number: str | None,
    *,
    seed: int,
    now_s: Callable[[], float] = time.monotonic,
    spoilt: Callable[[Behaviour], Behaviour] | None = None,
    **how: Any,
) -> WeighingGauge:
    """A balance or force gauge; `how` is what a `Gauge` takes, `spoilt` puts faults before it."""
    gauge = Gauge(now_s, seed, **how)
    hid = Hid(gauge)
    descriptors = hid_descriptors(
        gauge, pid=GAUGE_PID, product="Strain Gauge", serial_number=serial_number
    )
    device = WeighingGauge(descriptors, spoilt(hid) if spoilt else hid, system_takes=_SYSTEM)
    device.gauge = gauge
    return device


def typing_device(serial_number: str | None = "KB-1", *, boot: bool = True) -> TypingDevice:
    """A keyboard-type device; without `boot` its interface looks like any HID device's."""
    keyboard = Keyboard()
    descriptors = hid_descriptors(
        keyboard,
        pid=KEYBOARD_PID,
        product="Typing Gauge",
        serial_number=serial_number,
        subclass=int(boot),
        protocol=int(boot),
    )
    device = TypingDevice(descriptors, Hid(keyboard), system_takes=_SYSTEM)
    device.keyboard = keyboard
    return device
