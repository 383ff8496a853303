"""The coefficient of a force, and what each input does to it.

On a panel that rises by the angle b in the direction of the pull, with a line that rises by the
angle a above the panel, the sled of the weight W moves evenly (or is about to) when

    F cos a = mu N + W sin b        N = W cos b - F sin a

so that mu = (F cos a - W sin b) / N. With a = b = 0 this is F / W: static by the first peak,
kinetic by the mean force while it slides (ASTM D1894, D2534 clause 11, ISO 8295). By the rule for
quotients d mu = (d(F cos a - W sin b) - mu dN) / N. Pure; any thread.
"""

from __future__ import annotations

import math
from typing import NamedTuple

STEEPEST_DEG = 45.0
"""For line and panel alike: beyond, this is no test of slickness."""


class Slope(NamedTuple):
    """A coefficient, and its derivatives.

    `by_force` in 1/N, `by_weight` for one part of the weight (dmu / dlnW), `by_line` and `by_tilt`
    for a radian.
    """

    mu: float
    by_force: float
    by_weight: float
    by_line: float
    by_tilt: float


def slope_of(
    force_n: float, weight_n: float, line_deg: float = 0.0, tilt_deg: float = 0.0
) -> Slope:
    """The coefficient that a force on the line stands for.

    Raises ValueError for a weight that is not above 0 N, an angle beyond 45 degrees, figures that
    are not finite, or where the line lifts the sled.
    """
    if not (math.isfinite(force_n) and 0 < weight_n < math.inf):
        raise ValueError(f"a force and a weight above 0 N are wanted, got {force_n}, {weight_n}")
    for name, deg in (("pull angle", line_deg), ("panel tilt", tilt_deg)):
        if not abs(deg) <= STEEPEST_DEG:
            raise ValueError(
                f"{name}: -{STEEPEST_DEG:g} to {STEEPEST_DEG:g} degrees are wanted, got {deg:g}"
            )
    a, b = math.radians(line_deg), math.radians(tilt_deg)
    along = force_n * math.cos(a) - weight_n * math.sin(b)
    normal = weight_n * math.cos(b) - force_n * math.sin(a)
    if not normal > 0:
        raise ValueError(
            f"a line that rises by {line_deg:g} degrees at {force_n:g} N lifts the sled: nothing "
            "presses it on the panel"
        )
    mu = along / normal
    return Slope(
        mu,
        (math.cos(a) + mu * math.sin(a)) / normal,
        -weight_n * (math.sin(b) + mu * math.cos(b)) / normal,
        (-force_n * math.sin(a) + mu * force_n * math.cos(a)) / normal,
        (-weight_n * math.cos(b) + mu * weight_n * math.sin(b)) / normal,
    )
