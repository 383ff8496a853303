"""A sled on a panel, pulled over its zones: stiction, slip, and what the tow line feels. Pure.

A block with dry friction on a spring whose other end moves evenly. While it sticks the force
grows until the static friction gives way; then it slides against the kinetic friction, catches
up with the line, and sticks again. Static friction grows with the logarithm of the dwell
(common practice, no source; the law is a model of our own), and the first pull over a fresh lane
is higher than those behind it.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

RATE_HZ = 1000
STANDARD_GRAVITY = 9.80665
"""m/s2, exact by convention (3rd CGPM, from memory)."""

SUBSTEPS = 4
DAMPING_N_S_PER_M = 6.0
"""Of the tow line: the spring of a slip dies out within a few swings."""
RELEASE_S = 0.02
TAIL_S = 0.15


@dataclass(frozen=True)
class Zone:
    """A lane of a panel. `static` is the coefficient without dwell, `ageing` what it gains with
    every decade of it, as a share; `first` the factor of the first pull; `texture` the scatter
    of static friction from one sticking to the next, as a share.
    """

    name: str
    static: float = 0.40
    kinetic: float = 0.30
    ageing: float = 0.05
    first: float = 1.06
    texture: float = 0.01

    def holds(self, dwell_s: float) -> float:
        """The coefficient of static friction after so long a dwell."""
        return self.static * (1 + self.ageing * math.log10(1 + dwell_s))


@dataclass(frozen=True)
class Tow:
    """How the sled is pulled: its mass, the line, how fast and for how long after it broke free."""

    mass_g: float = 200.0
    speed_mm_per_s: float = 3.0
    stiffness_n_per_mm: float = 1.0
    slides_s: float = 0.8


class Sled:
    """A sled that somebody sets on zones and pulls; the same seed and pulls give the same."""

    def __init__(self, seed: str) -> None:
        self.zone: Zone | None = None
        self.pulls_here = 0
        self.pulls = 0
        self._seed = seed

    def place(self, zone: Zone) -> None:
        """Set it down on a fresh lane of a zone."""
        self.zone, self.pulls_here = zone, 0

    def pull(self, tow: Tow, dwell_s: float) -> list[float]:
        """The force on the line in newton, a thousand a second, until it is let go again.

        Raises ValueError when the sled stands nowhere.
        """
        if self.zone is None:
            raise ValueError("the sled stands nowhere")
        self.pulls += 1
        self.pulls_here += 1
        chance = random.Random(f"{self._seed}|pull|{self.pulls}")
        first = self.zone.first if self.pulls_here == 1 else 1.0
        return _forces(self.zone, tow, dwell_s, first, chance)


def _forces(
    zone: Zone, tow: Tow, dwell_s: float, first: float, chance: random.Random
) -> list[float]:
    mass_kg = tow.mass_g / 1000
    weight_n = mass_kg * STANDARD_GRAVITY
    speed, stiffness = tow.speed_mm_per_s / 1000, tow.stiffness_n_per_mm * 1000
    dt = 1 / (RATE_HZ * SUBSTEPS)
    stretch = velocity = stuck_s = slid_s = 0.0
    # A texture can make friction less, but never turn it round.
    rough = first * max(0.1, chance.gauss(1.0, zone.texture))
    sticks, broke = True, False
    out: list[float] = []
    step = 0
    while slid_s < tow.slides_s:
        force = stiffness * stretch
        if step % SUBSTEPS == 0:
            out.append(force)
        step += 1
        slid_s += dt if broke else 0.0
        if sticks:
            stuck_s += dt
            stretch += speed * dt
            if force >= weight_n * zone.holds(dwell_s + stuck_s) * rough:
                sticks, broke, stuck_s, dwell_s = False, True, 0.0, 0.0
            continue
        drag = weight_n * zone.kinetic + DAMPING_N_S_PER_M * (velocity - speed)
        velocity += (force - drag) / mass_kg * dt
        stretch += (speed - velocity) * dt
        if velocity <= 0:
            sticks, velocity = True, 0.0
            rough = max(0.1, chance.gauss(1.0, zone.texture))
    let_go = stiffness * max(0.0, stretch)
    tail = range(1, round(TAIL_S * RATE_HZ))
    return out + [let_go * math.exp(-i / RATE_HZ / RELEASE_S) for i in tail]
