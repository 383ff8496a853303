"""A bench of simulated devices as `simulators.scenario_file` reads it from a file. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from simulators.commands import Hands
from simulators.hand import Doer, Hand
from simulators.things import Thing
from simulators.wires import WIRES, Wire


@dataclass(frozen=True)
class Device:
    """A device of a scenario. `port` None: whichever kind the system has."""

    name: str
    wire_name: str
    serial: str
    seed: int
    port: str | None = None
    options: Mapping[str, object] = field(default_factory=dict)
    faults: tuple[Mapping[str, object], ...] = ()

    @property
    def wire(self) -> Wire:
        return WIRES[self.wire_name]

    @property
    def channels(self) -> tuple[str, ...]:
        """The geometries or bands of one press."""
        angles = self.options.get("angles")
        return tuple(map(str, angles)) if isinstance(angles, list) else self.wire.channels


@dataclass(frozen=True)
class Step:
    """An act of the script, and when: so long after the act before, or when a device was pressed
    so often since the start; None and None: at once.
    """

    do: str
    after_s: float | None = None
    after_presses: int | None = None
    of: str = ""


@dataclass(frozen=True)
class Scenario:
    """A bench."""

    name: str
    seed: int
    things: Mapping[str, Thing]
    devices: tuple[Device, ...]
    script: tuple[Step, ...] = ()


def hands_of(scenario: Scenario, doers: Mapping[str, Doer]) -> Hands:
    """Every device in a hand, with all things laid within reach."""
    things = dict(scenario.things)
    hands = {
        device.name: Hand(device.name, device.wire, doers[device.name], device.channels, things)
        for device in scenario.devices
    }
    all_hands = Hands(hands, things)
    all_hands.lay_out()
    return all_hands
