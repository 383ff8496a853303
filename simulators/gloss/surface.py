"""What a gloss meter can stand on: a tile, a black trap, a zone of a panel. Pure."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import NamedTuple

ANGLES = (20, 60, 85)


class Place(NamedTuple):
    """Where on a surface a meter stands: how many standard deviations of the texture it is off,
    how far from the middle (the edges are at -0.5 and 0.5), and its rank from 0 to 1 among all
    places by how likely a spot is there.
    """

    deviates: float = 0.0
    along: float = 0.0
    stained: float = 1.0


@dataclass(frozen=True)
class Surface:
    """A surface with its gloss in gloss units by angle, seen along its swirl marks.

    `texture_sd` is the scatter from spot to spot. `swirl` is what the gloss loses when the meter
    looks straight across the marks: they spread the light sideways, so that less of it stays in
    the mirror direction. Between, the loss follows the square of the sine (a model of our own).
    `slope` is how much more gloss the far edge has than the near one. `spots` is the share of the
    surface that has spots on it, where `spot_loss` of the gloss is missing.
    """

    name: str
    gloss: Mapping[int, float]
    texture_sd: float = 0.0
    swirl: float = 0.0
    swirl_deg: float = 0.0
    slope: float = 0.0
    spots: float = 0.0
    spot_loss: float = 0.0

    def at(self, angle: int, turned_deg: float, place: Place) -> float:
        """The true gloss of one place."""
        across = math.sin(math.radians(turned_deg - self.swirl_deg)) ** 2
        gloss = self.gloss[angle] + self.texture_sd * place.deviates + self.slope * place.along
        spot = self.spot_loss if place.stained < self.spots else 0.0
        return max(0.0, gloss - self.swirl * across - spot)


# A little light always comes back: a good meter on a good trap reads 0.0, now and then 0.1.
TRAP = Surface("trap", MappingProxyType(dict.fromkeys(ANGLES, 0.04)))
