"""The sled and the force it presses with: mass, gravity, weight, mean pressure.

Pure; any thread.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from acquire.analysis.transmission.meter import variable

if TYPE_CHECKING:
    from uncertainties import UFloat

STANDARD_GRAVITY = 9.80665
"""m/s2, exact by convention (SI Brochure, 9th edition; from memory). Gram-force has it in it."""


@dataclass(frozen=True, slots=True, eq=False)
class Sled:
    """A sled as weighed, in kilogram, and gravity at the bench, in m/s2.

    Make it once for all pulls with it: results that share it know that they do, so that its mass
    cancels in the ratio of two coefficients and all but cancels in a small difference of them.
    """

    mass_kg: UFloat
    gravity: UFloat

    @property
    def weight_n(self) -> UFloat:
        """W = m g."""
        return self.mass_kg * self.gravity


def weighed(
    mass_kg: float,
    u_kg: float = 0.0,
    gravity: float = STANDARD_GRAVITY,
    u_gravity: float = 0.0,
    name: str = "sled mass",
) -> Sled:
    """The sled of this mass; `u_kg` and `u_gravity` are standard uncertainties.

    Where a gauge reads in gram-force and the sled in gram, their ratio needs no gravity only if
    the gauge was adjusted by weights at the bench itself: then leave the standard value. Raises
    ValueError for a mass or gravity that is not above zero.
    """
    if not mass_kg > 0:
        raise ValueError(f"a mass above 0 kg is wanted, got {mass_kg}: weigh the sled")
    if not 9.7 <= gravity <= 9.9:
        raise ValueError(f"gravity on earth is 9.76 to 9.84 m/s2, got {gravity}")
    return Sled(variable(name, mass_kg, u_kg), variable("gravity", gravity, u_gravity))
