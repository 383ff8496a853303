"""What a gloss meter can stand on: a tile, a black trap, a zone of a panel. Pure."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

ANGLES = (20, 60, 85)


@dataclass(frozen=True)
class Surface:
    """A surface with its gloss in gloss units by angle, seen along its swirl marks.

    `texture_sd` is the scatter from spot to spot. `swirl` is what the gloss loses when the meter
    looks straight across the marks: they spread the light sideways, so that less of it stays in
    the mirror direction. Between, the loss follows the square of the sine (a model of our own).
    """

    name: str
    gloss: Mapping[int, float]
    texture_sd: float = 0.0
    swirl: float = 0.0
    swirl_deg: float = 0.0

    def at(self, angle: int, turned_deg: float, spot: float) -> float:
        """The true gloss of one spot; `spot` is how many standard deviations it is off."""
        across = math.sin(math.radians(turned_deg - self.swirl_deg)) ** 2
        return max(0.0, self.gloss[angle] + self.texture_sd * spot - self.swirl * across)


# A little light always comes back: a good meter on a good trap reads 0.0, now and then 0.1.
TRAP = Surface("trap", MappingProxyType(dict.fromkeys(ANGLES, 0.04)))
