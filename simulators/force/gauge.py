"""The body of a force gauge: what pulls at it, what it takes that for, what it holds. No bytes.

All scatter comes from the seed, the serial number and how often the gauge has looked. One thread.
"""

from __future__ import annotations

import random
from collections.abc import Iterable
from dataclasses import dataclass

from simulators.force.sled import STANDARD_GRAVITY
from simulators.gloss.drift import GAIN_MAX, GAIN_MIN, Drift

NEWTONS = {
    "N": 1.0,
    "gf": STANDARD_GRAVITY / 1000,
    "kgf": STANDARD_GRAVITY,
    "lbf": 0.45359237 * STANDARD_GRAVITY,
    "ozf": 0.45359237 * STANDARD_GRAVITY / 16,
}
"""Newton in one; pound and ounce are avoirdupois (exact: 1 lb = 0.45359237 kg)."""

STEADY_LOOKS = 100
"""A load that hangs still is looked at so often for each press: a peak sits on top of the noise."""


@dataclass(frozen=True)
class Peak:
    """What a press gives: its count, the unit set, the peak in newton as the gauge takes it,
    whether it is beyond the range (+1 pulled, -1 pushed, 0 within), and whether it still moves.
    """

    count: int
    unit: str
    newton: float
    beyond: int
    moving: bool = False


class Gauge:
    """A gauge with a peak memory, a unit that anybody can switch, and a button that sets zero.

    `noise_n` is the scatter of one look, `limit_n` the end of the range either way.
    """

    def __init__(
        self, serial: str, seed: int, noise_n: float = 0.001, limit_n: float = 20.0
    ) -> None:
        self.serial = serial
        self.noise_n = noise_n
        self.limit_n = limit_n
        self.unit = "N"
        self.drift = Drift()
        self.zero_n = 0.0
        self.hangs_n = 0.0
        self.cell_works = True
        self.count = 0
        self.presses = 0
        self._peak_n: float | None = None
        self._looks = 0
        self._seed = f"{seed}|{serial}"

    def restart(self) -> None:
        """Begin to count and to hold anew, as after power-on. What was set to zero stays so."""
        self.count = 0
        self._peak_n = None

    def seen(self, true_n: Iterable[float]) -> list[float]:
        """What the gauge takes these forces for, one look after the other."""
        self._looks += 1
        noise = random.Random(f"{self._seed}|look|{self._looks}")
        applied, zero, sd = self.drift.applied, self.zero_n, self.noise_n
        return [applied(one) - zero + noise.gauss(0.0, sd) for one in true_n]

    def watch(self, true_n: Iterable[float]) -> None:
        """Hold the largest of these, whichever way it goes, and of what is held already."""
        for one in self.seen(true_n):
            if self._peak_n is None or abs(one) > abs(self._peak_n):
                self._peak_n = one

    def press(self, *, moving: bool = False) -> Peak:
        """Press the button: the memory begins anew after it."""
        self.presses += 1
        self.count += 1
        self.watch([self.hangs_n] * STEADY_LOOKS)
        newton, self._peak_n = self._peak_n or 0.0, None
        self.drift.creep()
        beyond = 0 if abs(newton) <= self.limit_n else (1 if newton > 0 else -1)
        return Peak(self.count, self.unit, newton, beyond, moving)

    def tare(self) -> None:
        """Set to zero what pulls now; the gauge averages until its noise does not matter."""
        self.zero_n = self.drift.applied(self.hangs_n)
        self._peak_n = None

    def adjust(self, certified_g: float) -> None:
        """Read the weight on the hook as its certificate says. Raises ValueError when it cannot."""
        certified_n = certified_g * NEWTONS["gf"]
        gain = (certified_n + self.zero_n - self.drift.offset) / (self.hangs_n or 1e-9)
        if not GAIN_MIN <= gain <= GAIN_MAX:
            raise ValueError(f"{self.hangs_n / NEWTONS['gf']:.1f} g hang there")
        self.drift.gain = gain
        self._peak_n = None


def displayed(newton: float, unit: str, decimals: int) -> str:
    """A force as a display has it: no sign before what pulls, and zero is never below nothing."""
    text = f"{newton / NEWTONS[unit]:.{decimals}f}"
    return text if float(text) else text.removeprefix("-")


def shown(newton: float, unit: str, decimals: int, digits: int = 1) -> str:
    """A force on the display: sign always, so many decimals, and never a negative zero."""
    text = f"{newton / NEWTONS[unit]:+0{digits + decimals + 2}.{decimals}f}"
    return text if float(text) else text.replace("-", "+")
