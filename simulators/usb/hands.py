"""Which hand a layout of a USB device wants."""

from __future__ import annotations

from collections.abc import Mapping

from simulators.usb.backend import SimulatedBackend
from simulators.usb.faults import drawn
from simulators.usb.gauge_hand import GaugeHand
from simulators.usb.hand import Spoiler, UsbHand
from simulators.usb.head_hand import HeadHand


def usb_hand(
    layout: str, backend: SimulatedBackend, serial: str, seed: int, options: Mapping[str, object]
) -> UsbHand:
    """The device of a layout, plugged in; `fault_share` and `fault_kinds` are of its pipe."""
    rest = {name: value for name, value in options.items() if not name.startswith("fault_")}
    share, kinds = options.get("fault_share", 0.0), options.get("fault_kinds", ())
    spoiler = Spoiler(backend, drawn(seed, share, kinds))  # type: ignore[arg-type]
    if layout == "head":
        return HeadHand(backend, spoiler, serial, seed, **rest)  # type: ignore[arg-type]
    return GaugeHand(backend, spoiler, serial, seed, **rest)  # type: ignore[arg-type]
