"""The body of a band head: lamp, holder, detector, and what it takes for 100 %. No bytes here.

Time is the head's own and passes by acts alone: a press takes some, waiting takes more. So the
same seed, serial number and acts give the same numbers, however long they take. One thread.
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from simulators.gloss.drift import Drift
from simulators.transmission.light import OPEN, UVA, Band, Piece

PRESS_S = 2.0
COLD_SHARE = 0.04
WARMS_UP_S = 300.0
"""A cold lamp gives some hundredths less and comes up within minutes (common practice, no
source)."""

UV_NOISE = 3.0
"""The lamp is weak there, so that the detector's noise is a larger share."""


@dataclass(frozen=True)
class Shown:
    """A press: its count since power-on, and what was seen in percent by band, or a code."""

    count: int
    percent: Mapping[str, float]
    code: str = ""


class Head:
    """A head of some bands. `noise_sd` is the scatter in percent of the open beam.

    It has been on for an hour when it is made, and its open beam is set.
    """

    def __init__(
        self, serial: str, seed: int, bands: Sequence[Band], noise_sd: float = 0.05
    ) -> None:
        self.serial = serial
        self.bands = tuple(bands)
        self.piece: Piece = OPEN
        self.lamp_works = True
        self.lamp = Drift()
        self.count = 0
        self.presses = 0
        self.warm_s = 3600.0
        self.open_beam_set = True
        self._noise_sd = noise_sd
        self._seed = f"{seed}|{serial}"
        self._full = self.brightness
        self._dark = self.lamp.offset

    @property
    def brightness(self) -> float:
        """Of the lamp, 1 when it is warm and nothing has drifted."""
        return self.lamp.gain * (1 - COLD_SHARE * math.exp(-self.warm_s / WARMS_UP_S))

    def wait(self, seconds: float) -> None:
        """Let the lamp burn."""
        self.warm_s += seconds

    def restart(self) -> None:
        """As after power-on: it counts anew and the lamp is cold. What is 100 % stays in it."""
        self.count = 0
        self.warm_s = 0.0
        self.open_beam_set = False

    def press(self) -> Shown:
        """Look at what lies in the beam."""
        self.presses += 1
        self.count += 1
        self.wait(PRESS_S)
        if not self.lamp_works:
            return Shown(self.count, {}, "LAMP")
        seen = {band.name: self._look(band) for band in self.bands}
        self.lamp.creep()
        return Shown(self.count, seen)

    def set_open_beam(self) -> None:
        """Its own key: what comes through now is 100 %. Raises ValueError for anything too dark."""
        through = min(self.piece.percent(band) for band in self.bands)
        if through < 99 or not self.lamp_works:
            raise ValueError(f"{self.piece.name} lets {through:.1f} % through")
        self._full, self._dark = self.brightness, self.lamp.offset
        self.open_beam_set = True

    def _look(self, band: Band) -> float:
        light = self.piece.percent(band) * self.brightness / self._full
        noise = random.Random(f"{self._seed}|{self.presses}|{band.name}").gauss(0.0, 1.0)
        # Light brings its own noise; in the dark what remains is the electronics.
        share = 0.3 + 0.7 * min(1.0, light / 100)
        sd = self._noise_sd * share * (UV_NOISE if band == UVA else 1.0)
        return light + self.lamp.offset - self._dark + sd * noise
