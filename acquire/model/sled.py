"""The sled of a measure of force, by which forces become coefficients of friction. Facts only."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum


class SledCorrection(StrEnum):
    """What a plan can have taken into account beside force over weight."""

    ZERO = "zero"
    """What the gauge reads with the line slack is taken off."""
    PULL_ANGLE = "pull-angle"
    """The line rises above the panel: it pulls less along it, and lifts the sled a little."""
    TILT = "tilt"
    """The panel rises in the direction of the pull: the weight pulls back."""


@dataclass(frozen=True, slots=True)
class Angle:
    """An angle in degrees with its standard uncertainty."""

    deg: Decimal
    u_deg: Decimal


@dataclass(frozen=True, slots=True)
class SteadyWindow:
    """Where the kinetic mean is taken, behind the start of motion, by the speed of the pull."""

    skip_mm: Decimal
    length_mm: Decimal
    speed_mm_per_s: Decimal


@dataclass(frozen=True, slots=True)
class SledSpec:
    """A sled as the plan has it: `mass_kg` with its standard uncertainty `u_kg`.

    `as_weighed` is the mass with its unit as it was written. `gravity` is in m/s2. An angle is None
    where the plan does not give it; one that is given and not among `corrections` is on record and
    is not used. `window` is None where the steady window goes by the trace alone.
    """

    mass_kg: Decimal
    u_kg: Decimal
    as_weighed: str
    gravity: Decimal
    corrections: tuple[SledCorrection, ...]
    pull_angle: Angle | None = None
    tilt: Angle | None = None
    window: SteadyWindow | None = None

    @property
    def weight_n(self) -> float:
        """W = m g."""
        return float(self.mass_kg * self.gravity)
