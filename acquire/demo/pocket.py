"""A simulated gloss meter without a port: it shows a number, and the tester reads it off."""

from __future__ import annotations

from collections.abc import Mapping

from simulators.gloss.meter import Meter
from simulators.gloss.surface import Surface
from simulators.things import Thing

ANGLE = 20


class Pocket:
    """Set it on a thing, press, look. The same seed gives the same numbers."""

    def __init__(self, serial: str, seed: int, things: Mapping[str, Thing]) -> None:
        self._meter = Meter(serial, seed, (ANGLE,))
        self._things = things

    def put(self, name: str) -> None:
        """Set it on a tile, the trap or a zone as it is now."""
        thing = self._things[name]
        gloss = thing.gloss(str(ANGLE))
        assert gloss is not None
        texture_sd = thing.surface.get("texture_sd", 0.0)
        assert isinstance(texture_sd, int | float)
        self._meter.place(Surface(name, {ANGLE: gloss}, texture_sd=float(texture_sd)))

    def press(self) -> str:
        """What its display shows then."""
        (shown,) = self._meter.press().shown
        assert shown.tenths is not None
        return f"{shown.tenths / 10:.1f}"
