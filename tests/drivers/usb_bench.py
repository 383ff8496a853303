"""A simulated USB device on a simulated bus, the link to it and a driver, for tests of drivers.

In one thread and in hurried time. What befalls its packets is drawn by `draw`, or added to
`spoilt`.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Generic, TypeVar

from acquire.driverapi import Family
from acquire.driverapi.guard import Guard
from acquire.link.tape import Passed, RecordingLink
from acquire.link.usblink import UsbOpener
from acquire.model import Fact, Instant, LinkAddress
from simulators.usb.backend import SimulatedBackend
from simulators.usb.behaviour import Behaviour
from simulators.usb.device import SimulatedDevice
from simulators.usb.faults import Spoilt
from simulators.usb.waiting import HurriedWaiting

EPOCH_NS = 1_750_000_000_000_000_000

D = TypeVar("D", bound=SimulatedDevice)


class UsbBench(Generic[D]):
    """Connected by `connect`; `make` is given the time and what puts faults before a behaviour."""

    def __init__(
        self,
        make: Callable[[Callable[[], float], Callable[[Behaviour], Behaviour]], D],
        draw: Any = None,
    ) -> None:
        self.waiting = HurriedWaiting()
        self.backend = SimulatedBackend(self.waiting)
        self.spoilt: Spoilt | None = None

        def spoil(behaviour: Behaviour) -> Behaviour:
            extra = {} if draw is None else {"draw": draw}
            self.spoilt = Spoilt(behaviour, self.waiting.now_s, **extra)
            return self.spoilt

        self.device = make(self.waiting.now_s, spoil)
        self.backend.plug(self.device)

    def connect(self, family: Family, table: dict[str, Any], layout: str) -> None:
        """Open the link, with a fresh driver."""
        address = LinkAddress(identity={"serial_number": self.device.descriptors.serial_number})
        link = UsbOpener(address, family.needs(table, layout), self.backend).open()
        self.passed: list[Passed] = []
        self.link = RecordingLink(link, self, self.passed.append)
        self.driver = family.driver(table, layout)
        self.opened = now = self.now()
        self.guard = Guard(layout, now)
        self.stream = b""
        self.facts: list[Fact] = []
        assert self.driver.opening(now) == b""

    def now(self) -> Instant:
        ns = round(self.waiting.now_s() * 1e9)
        return Instant(EPOCH_NS + ns, ns)

    def run(self, seconds: float) -> list[Fact]:
        """What a session does, for some time; the facts of it."""
        end = self.now().mono_ns + round(seconds * 1e9)
        before = len(self.facts)
        while (now := self.now()).mono_ns < end:
            self.guard.tell(now)
            due = self.driver.due(now)
            if due.send:
                self.link.write(due.send)
            again = end if due.again is None else min(end, due.again.mono_ns)
            data = self.link.read(max(0.001, (again - self.now().mono_ns) / 1e9))
            self.stream += data
            at = self.now()
            self.facts += self.guard.facts(self.driver.feed(data, at), data, at)
        return self.facts[before:]
