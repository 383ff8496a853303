"""A USB device in the tester's hand, with acts by name as the devices on lines have them.

`unplug`, `plug`, `fault`, `state` here; `simulators.usb.head_hand` and
`simulators.usb.gauge_hand` have the acts of their devices besides. `fault` takes a `kind` of
`simulators.usb.faults` and for how many `packets` it holds. Any thread; every act is done with the
bus held.
"""

from __future__ import annotations

from collections.abc import Callable

from simulators.arguments import ActFault, Arguments
from simulators.usb.backend import SimulatedBackend
from simulators.usb.behaviour import Behaviour
from simulators.usb.device import SimulatedDevice
from simulators.usb.faults import CLEAN, KINDS, Spoilt

Answer = dict[str, object]


class Spoiler:
    """Puts faults before a behaviour, and keeps what it put there."""

    spoilt: Spoilt

    def __init__(self, backend: SimulatedBackend, draw: Callable[[], str] = lambda: CLEAN) -> None:
        self._now_s = backend.now_s
        self._draw = draw

    def __call__(self, behaviour: Behaviour) -> Spoilt:
        self.spoilt = Spoilt(behaviour, self._now_s, draw=self._draw)
        return self.spoilt


class UsbHand:
    """A device on a simulated bus, and what a hand can do to it."""

    def __init__(
        self, backend: SimulatedBackend, device: SimulatedDevice, spoilt: Spoilt, pipe: int
    ) -> None:
        self.device = device
        self._backend = backend
        self._spoilt = spoilt
        self._pipe = pipe
        spoilt.unplug = device.unplug
        self._doings: dict[str, Callable[[Arguments], Answer]] = {
            "unplug": self._unplug,
            "plug": self._plug,
            "fault": self._fault,
            "state": self._state,
        }
        backend.plug(device)

    @property
    def serial(self) -> str:
        """The serial number of its descriptor."""
        return self.device.descriptors.serial_number or ""

    @property
    def port(self) -> str:
        """What it is found by."""
        vid, pid = self.device.descriptors.vid, self.device.descriptors.pid
        return f"usb {vid:04x}:{pid:04x} {self.serial}"

    def act(self, act: str, /, **arguments: object) -> Answer:
        """Do an act and return its answer. Raises ActFault."""
        if act not in self._doings:
            raise ActFault("act", act, f"one of {', '.join(self._doings)}")
        return {"ok": True, **self._doings[act](Arguments(act, arguments))}

    def close(self) -> None:
        """Take it off the bus."""
        if self.device.plugged:
            self.device.unplug()

    def _unplug(self, args: Arguments) -> Answer:
        args.finish()
        self.device.unplug()
        return {}

    def _plug(self, args: Arguments) -> Answer:
        args.finish()
        if not self.device.plugged:
            self._backend.plug(self.device)
        return {}

    def _fault(self, args: Arguments) -> Answer:
        kind = args.choice("kind", (*KINDS, CLEAN))
        packets = args.whole("packets", 1, 1000, 1)
        args.finish()
        with self.device.touched():
            self._spoilt.add(self._pipe, *[kind] * packets)
        return {}

    def _state(self, args: Arguments) -> Answer:
        args.finish()
        return {"serial": self.serial, "plugged": self.device.plugged}
