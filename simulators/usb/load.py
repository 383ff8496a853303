"""What pulls at a force gauge or lies on a balance, in grams over time. Pure."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol


class Load(Protocol):
    """A load; time counts from the moment it was put on."""

    def grams(self, after_s: float) -> float:
        """What it weighs, or pulls with, then."""
        ...


@dataclass(frozen=True)
class Weight:
    """A check weight, or nothing. It swings in from what was there before, within some tenths."""

    mass_g: float
    before_g: float = 0.0
    settle_s: float = 0.15

    def grams(self, after_s: float) -> float:
        return self.mass_g + (self.before_g - self.mass_g) * math.exp(-after_s / self.settle_s)


@dataclass(frozen=True)
class Pull:
    """A sled that is pulled: the force grows until it breaks free, then slides by stick and slip.

    The breakaway force grows with the logarithm of the dwell (a model of our own):
    static x (1 + ageing x log10(1 + dwell)).
    """

    sled_g: float
    static: float = 0.4
    kinetic: float = 0.3
    dwell_s: float = 0.0
    ageing: float = 0.05
    speed_g_per_s: float = 400.0
    stick_slip_g: float = 5.0
    stick_slip_hz: float = 4.0
    slides_s: float = 2.0

    @property
    def breakaway_g(self) -> float:
        return self.sled_g * self.static * (1 + self.ageing * math.log10(1 + self.dwell_s))

    def grams(self, after_s: float) -> float:
        free_s = self.breakaway_g / self.speed_g_per_s
        if after_s <= free_s:
            return self.speed_g_per_s * after_s
        if after_s > free_s + self.slides_s:
            return 0.0
        # A saw: it sticks while the force grows and slips at its top.
        phase = (after_s - free_s) * self.stick_slip_hz % 1.0
        return self.sled_g * self.kinetic + self.stick_slip_g * (phase - 0.5)
