"""The angle of a small sessile drop from its height and base, and the word for it.

Small drops are spherical caps: theta = 2 atan(2 h / d), V = pi h (3 (d/2)^2 + h^2) / 6. That holds
while weight does not flatten them: a few microlitres of water (common practice, no source).
Below 45 degrees a surface is called hydrophilic and above 90 hydrophobic (ASTM D7334-08, 5.5, its
edges put into the class between). Pure; any thread.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from acquire.analysis.samples.summary import checked


class Cap(NamedTuple):
    """The angle with its standard uncertainty, degrees, and the drop's volume in microlitres."""

    angle_deg: float
    u_angle_deg: float
    volume_ul: float


def cap(height_mm: float, base_mm: float, u_height_mm: float = 0.0, u_base_mm: float = 0.0) -> Cap:
    """The cap of this height and base diameter; the errors of both are taken as unrelated.

    Raises ValueError for lengths that are not above 0 or uncertainties below it.
    """
    h, d = checked(height_mm), checked(base_mm)
    if not (h > 0 and d > 0):
        raise ValueError(f"a height and a base above 0 mm are wanted, got {h:g} and {d:g}")
    if min(checked(u_height_mm), checked(u_base_mm)) < 0:
        raise ValueError("uncertainties of 0 or more are wanted")
    slope = 4 / (d * d + 4 * h * h)
    u = slope * math.hypot(d * u_height_mm, h * u_base_mm)
    volume = math.pi * h * (3 * (d / 2) ** 2 + h * h) / 6
    return Cap(math.degrees(2 * math.atan2(2 * h, d)), math.degrees(u), volume)


def wetting_word(angle_deg: float) -> str:
    """Hydrophilic, intermediate or hydrophobic; ValueError outside 0 to 180 degrees."""
    if not 0 <= checked(angle_deg) <= 180:
        raise ValueError(f"an angle from 0 to 180 degrees is wanted, got {angle_deg:g}")
    if angle_deg < 45:
        return "hydrophilic"
    return "intermediate" if angle_deg <= 90 else "hydrophobic"
