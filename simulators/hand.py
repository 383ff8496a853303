"""The tester's hand at one device: put it on things, press, lift, adjust; whatever its wire.

What it takes to get a reading differs: a gloss meter is set down and pressed, a force gauge pulls
a sled or has a weight hung on it, a head gets a slide into its beam. Acts go to a device that
runs (`DeviceProcess`, `UsbHand`), or to one on a table (`Table`), where they are only tried. One
thread.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Protocol

from simulators.arguments import ActFault, Arguments
from simulators.faults import read_faults
from simulators.program import Held
from simulators.stand import COMMON_ACTS
from simulators.things import Thing
from simulators.wires import BESIDE, FORCE, GLOSS, Wire

SWINGS_S = 1.0
"""How long a weight hangs on a gauge that only knows pulls."""

NO_WORDS: Mapping[str, object] = {}


class Doer(Protocol):
    """A device that does acts."""

    def act(self, act: str, /, **arguments: Any) -> Mapping[str, object]:
        """Do an act and return its answer. Raises ActFault or DeviceFault."""
        ...


class Table:
    """A device without a port, to try acts on before anything runs."""

    def __init__(self, held: Held) -> None:
        self._held = held

    def act(self, act: str, /, **arguments: Any) -> Mapping[str, object]:
        args = Arguments(act, arguments)
        if act in self._held.acts:
            return self._held.act(args).answer
        if act == "fault":
            read_faults(args)
        elif act not in COMMON_ACTS or act == "quit":
            known = ", ".join((*self._held.acts, *COMMON_ACTS[:-1]))
            raise ActFault("act", act, f"one of {known}")
        if act == "echo":
            args.flag("on")
        args.finish()
        return {}


class Hand:
    """Works one device. `presses` counts what was pressed, or pulled where nothing is pressed."""

    def __init__(
        self,
        name: str,
        wire: Wire,
        device: Doer,
        channels: tuple[str, ...],
        things: Mapping[str, Thing],
    ) -> None:
        self.name = name
        self.wire = wire
        self.device = device
        self.channels = channels
        self.presses = 0
        self.pulls: Mapping[str, object] = {}
        """How its sled is pulled where nobody says otherwise: `mass_g` and its like."""
        self.on: str | None = None
        self._things = things

    def lay(self, thing: Thing) -> None:
        """Lay a thing within reach, or lay it anew; what stands on it stands on it still."""
        laying = thing.laying(self.wire.measures, self.channels)
        if laying is not None:
            act, arguments = laying
            self.device.act(act, **arguments)
            if self.on == thing.name:
                self.put(thing.name)

    def put(self, name: str, how: Mapping[str, object] = NO_WORDS) -> Mapping[str, object]:
        """Put the device on a thing, hang the thing on it, lay it into its beam."""
        known = [t.name for t in self._things.values() if t.is_for(self.wire.measures)]
        if name not in known:
            raise ActFault(f"put {self.name}", name, "one of " + (", ".join(known) or "no thing"))
        thing = self._things[name]
        answer = self._put(thing, how)
        self.on = name
        return answer

    def _put(self, thing: Thing, how: Mapping[str, object]) -> Mapping[str, object]:
        act = self.device.act
        if self.wire.measures == GLOSS:
            return act("place", surface=thing.name, **how)
        if self.wire.measures != FORCE:
            return act("place", piece=thing.name, **how)
        if thing.mass_g is None:
            act("weight", mass_g=0)
            return act("place", zone=thing.name, **how)
        # Where a weight is only seen as a pull it is hung on at the press.
        return {} if self.wire.presses == "stream" else act("weight", mass_g=thing.mass_g, **how)

    def lift(self) -> Mapping[str, object]:
        """Nothing beneath it, on it or in its beam."""
        if self.wire.measures in BESIDE:
            raise ActFault(f"lift {self.name}", self.name, "a device that is put on things")
        self.on = None
        if self.wire.measures == GLOSS:
            return self.device.act("lift")
        if self.wire.measures == FORCE:
            return self.device.act("weight", mass_g=0)
        return self.device.act("place", piece="open")

    def press(self, how: Mapping[str, object] = NO_WORDS) -> Mapping[str, object]:
        """Get a reading as a tester would: press, or pull the sled and press."""
        answer = self._press(how)
        self.presses += answer.get("measures") is not False
        return answer

    def _press(self, how: Mapping[str, object]) -> Mapping[str, object]:
        act = self.device.act
        if self.wire.presses == "asked":
            raise ActFault(f"press {self.name}", "a press", "a host that asks: it has no button")
        if self.wire.measures != FORCE:
            return act("press", **how)
        thing = self._things.get(self.on or "")
        mass_g = None if thing is None else thing.mass_g
        if thing is not None and mass_g is None:
            pulled = act("pull", **{**self.pulls, **how})
            return {**pulled, **act("press")} if self.wire.presses == "press" else pulled
        if self.wire.presses != "stream":
            return act("press", **how)
        if not mass_g:
            raise ActFault(
                f"press {self.name}", self.on or "nothing", "a zone or a weight: it has no button"
            )
        return act("weight", mass_g=mass_g, for_s=SWINGS_S)

    def adjust(self, how: Mapping[str, object] = NO_WORDS) -> Mapping[str, object]:
        """Its own adjust key, by the certificate of the piece that it stands on."""
        if how or self.wire.measures not in (GLOSS, FORCE):
            return self.device.act("adjust", **how)
        thing = self._things.get(self.on or "")
        if thing is None or not thing.is_piece:
            raise ActFault(f"adjust {self.name}", self.on or "nothing", "a reference piece")
        if self.wire.measures == FORCE:
            return self.device.act("adjust", value_g=thing.mass_g)
        return self.device.act("adjust", values={a: thing.gloss(a) for a in self.channels})
