"""Which hand a layout of a USB device wants."""

from __future__ import annotations

from collections.abc import Mapping

from simulators.usb.backend import SimulatedBackend
from simulators.usb.gauge_hand import GaugeHand
from simulators.usb.hand import UsbHand
from simulators.usb.head_hand import HeadHand


def usb_hand(
    layout: str, backend: SimulatedBackend, serial: str, seed: int, options: Mapping[str, object]
) -> UsbHand:
    """The device of a layout, plugged in."""
    if layout == "head":
        return HeadHand(backend, serial, seed, **options)  # type: ignore[arg-type]
    return GaugeHand(backend, serial, seed, **options)  # type: ignore[arg-type]
