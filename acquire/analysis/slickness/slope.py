"""The coefficient of a force, and what each input does to it: the same law as `coefficient`.

For many readings at once, where a variable for each would take long. With the weight W, the line's
angle a above the panel and the panel's tilt b

    N = W cos b - F sin a       mu = (F cos a - W sin b) / N

and by the rule for quotients d mu = (d(F cos a - W sin b) - mu dN) / N. Pure; any thread.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from acquire.analysis.slickness.coefficient import STEEPEST_DEG


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
