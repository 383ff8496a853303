"""The transmission head as a device to plug in.

head = transmission_head("LG-0093", seed=1, now_s=backend.waiting.now_s)
backend.plug(head)
head.lay(BLANK)
head.press()
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from simulators.usb.behaviour import Behaviour
from simulators.usb.descriptors import Configuration, Descriptors
from simulators.usb.device import SimulatedDevice
from simulators.usb.head import PRESS_S, Head
from simulators.usb.light import Beam, Grid, Slide
from simulators.usb.tmc import TMC_INTERFACE, Capabilities, Tmc

VID, PID = 0xFFFF, 0x0488
"""Of our own making; the vendor number is nobody's (from memory)."""


class TransmissionHead(SimulatedDevice):
    """What a hand can do to the head; each from any thread."""

    def __init__(self, descriptors: Descriptors, tmc: Tmc, behaviour: Behaviour) -> None:
        super().__init__(descriptors, behaviour)
        self.tmc = tmc
        self.head = tmc.head

    @contextmanager
    def touched(self) -> Iterator[None]:
        """As of any device; what was under way before is over before the hand acts."""
        with super().touched():
            self.head.tick()
            yield

    def lay(self, slide: Slide) -> None:
        """Lay a slide in the beam, or take it out (`OPEN`), or close the shutter (`SHUTTER`)."""
        with self.touched():
            self.head.slide = slide

    def press(self) -> bool:
        """Press the button; False while the head is measuring."""
        with self.touched():
            return self.head.press()

    def adjust(self) -> None:
        """Press the head's own key for the open beam."""
        with self.touched():
            self.head.adjust()

    def upset(self, *, lamp_works: bool = True, covered: bool = True) -> None:
        """Let the lamp fail, or leave the cover open; without arguments all is well again."""
        with self.touched():
            self.head.lamp_works, self.head.covered = lamp_works, covered


def transmission_head(
    serial_number: str,
    *,
    seed: int,
    now_s: Callable[[], float] = time.monotonic,
    grid: Grid | None = None,
    beam: Beam | None = None,
    capabilities: Capabilities | None = None,
    spoilt: Callable[[Behaviour], Behaviour] | None = None,
    press_s: float = PRESS_S,
) -> TransmissionHead:
    """A head with the open beam, or with a `beam` of its own.

    A measurement takes `press_s`; `spoilt` puts faults between it and the bus.
    """
    light = beam or Beam(grid or Grid(), f"{seed}|{serial_number}")
    tmc = Tmc(Head(serial_number, now_s, light, press_s), capabilities)
    descriptors = Descriptors(
        VID,
        PID,
        (Configuration((TMC_INTERFACE,)),),
        "Slipway Optics",
        "Light Gate",
        serial_number,
    )
    return TransmissionHead(descriptors, tmc, spoilt(tmc) if spoilt else tmc)
