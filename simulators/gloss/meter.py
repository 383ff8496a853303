"""The body of a gloss meter: where it stands, what it sees, what it shows. No bytes here.

All scatter comes from the seed, the serial number and the number of the press in the meter's
life. The same acts give the same numbers, however long they take. One thread.
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from simulators.gloss.drift import Drift
from simulators.gloss.surface import ANGLES, Place, Surface

RANGE_TOP_TENTHS = 1200

# At zero there is hardly any light to scatter; what remains is the electronics.
DARK_SHARE = 0.2

PRESS_S = 2.0
WARMS_UP_S = 120.0
"""A lamp comes up within minutes (common practice, no source)."""


@dataclass(frozen=True)
class Shown:
    """One geometry of a press: the display in tenths of a gloss unit, None above the range.

    `true` is the gloss of the spot, which only a simulation can know.
    """

    angle: int
    tenths: int | None
    true: float


@dataclass(frozen=True)
class Press:
    """One press of the button: its count since power-on, and what it showed or why it did not."""

    count: int
    shown: tuple[Shown, ...]
    code: str = ""


class Meter:
    """A gloss meter of one to three geometries.

    `repeatability_sd` is the scatter, in gloss units at 100, of presses on one spot. `count_wraps`
    is the last count before it begins at 1 again; None if it never does. `top_tenths` is the end
    of its range. `cold_share` is how much less its lamp gives just after power-on. It has been on
    for an hour when it is made; time passes for it by presses and by `wait` alone.
    """

    def __init__(
        self,
        serial: str,
        seed: int,
        angles: Sequence[int] = (20,),
        repeatability_sd: float = 0.1,
        count_wraps: int | None = None,
        top_tenths: int = RANGE_TOP_TENTHS,
        cold_share: float = 0.0,
    ) -> None:
        if not angles or not set(angles) <= set(ANGLES) or len(set(angles)) < len(angles):
            raise ValueError(
                f"angles: got {list(angles)}, wanted some of {list(ANGLES)}, once each"
            )
        self.serial = serial
        self.angles = tuple(angles)
        self.drifts = {angle: Drift() for angle in self.angles}
        self.surface: Surface | None = None
        self.turned_deg = 0.0
        self.lamp_works = True
        self.count = 0
        self.presses = 0
        self.warm_s = 3600.0
        self._seed = f"{seed}|{serial}"
        self._repeatability_sd = repeatability_sd
        self._count_wraps = count_wraps
        self._top_tenths = top_tenths
        self._cold_share = cold_share
        self._along: float | None = None
        self._spot: Place | None = None

    @property
    def brightness(self) -> float:
        """Of the lamp, 1 when it is warm."""
        return 1 - self._cold_share * math.exp(-self.warm_s / WARMS_UP_S)

    def wait(self, seconds: float) -> None:
        """Let the lamp burn."""
        self.warm_s += seconds

    def place(self, surface: Surface, turned_deg: float = 0.0, along: float | None = None) -> None:
        """Set it down somewhere, turned against the surface's own direction.

        `along` says how far from the middle (-0.5 to 0.5) it stands; None: anywhere, at each press.
        """
        missing = [angle for angle in self.angles if angle not in surface.gloss]
        if missing:
            raise ValueError(f"{surface.name} has no gloss at {missing[0]} degrees")
        self.surface, self.turned_deg, self._spot = surface, turned_deg, None
        self._along = along

    def lift(self) -> None:
        """Take it up: the next press gives no reading."""
        self.surface = self._spot = None

    def restart(self) -> None:
        """Begin to count presses anew, as after power-on."""
        self.count = 0
        self.warm_s = 0.0

    def press(self, *, still: bool = False) -> Press:
        """Press the button, after setting the meter down anew on the same surface.

        `still`: without moving it, on the very spot of the press before.
        """
        self.presses += 1
        self.wait(PRESS_S)
        self.count = 1 if self.count == self._count_wraps else self.count + 1
        if self.surface is None:
            return Press(self.count, (), "LIFT")
        if not self.lamp_works:
            return Press(self.count, (), "LAMP")
        if self._spot is None or not still:
            self._spot = self._somewhere()
        shown = tuple(self._look(angle, self.surface, self._spot) for angle in self.angles)
        for drift in self.drifts.values():
            drift.creep()
        return Press(self.count, shown)

    def adjust(self, certified: Mapping[int, float]) -> None:
        """Press the adjust button on a piece: read it by its certificate from now on.

        The meter averages long enough for its own scatter not to matter. Raises ValueError when
        it stands on nothing, or the piece cannot be what its certificate says.
        """
        if self.surface is None:
            raise ValueError("the meter stands on nothing")
        for angle, value in certified.items():
            true = self.surface.at(angle, self.turned_deg, self._spot or Place())
            self.drifts[angle].adjust(true, value)

    def _look(self, angle: int, surface: Surface, spot: Place) -> Shown:
        true = surface.at(angle, self.turned_deg, spot)
        sd = self._repeatability_sd * (DARK_SHARE + (1 - DARK_SHARE) * min(true, 100.0) / 100)
        seen = self.drifts[angle].applied(true * self.brightness) + sd * self._deviate(str(angle))
        tenths = round(seen * 10)
        return Shown(angle, tenths if tenths <= self._top_tenths else None, true)

    def _somewhere(self) -> Place:
        along = self._chance("along").random() - 0.5 if self._along is None else self._along
        return Place(self._deviate("spot"), along, self._chance("stained").random())

    def _chance(self, what: str) -> random.Random:
        # A generator for each number: no number depends on how many were drawn before it.
        return random.Random(f"{self._seed}|{self.presses}|{what}")

    def _deviate(self, what: str) -> float:
        return self._chance(what).gauss(0.0, 1.0)
