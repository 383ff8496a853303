"""Whether readings scatter more where the level is higher.

ISO 5725-2:1994, 7.5 asks for it before one figure stands for all levels. Here the logarithms of
the scatter of several spots are put on a straight line over their levels. The logarithm of the
standard deviation of normal readings has a variance that depends on their number alone (trigamma
of half the degrees of freedom, over 4), so the slope is tested against what chance would give,
and not against the few spots' own departures. A logarithm of the level, as in the standard, would
leave out levels at zero. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from acquire.analysis.laws.special import digamma, ndtr, polygamma

FEWEST = 3
"""Two spots make a line, whatever they scatter by."""


class Dependence(NamedTuple):
    """The line through the scatter of the spots, at the lowest and the highest level read.

    `p` is the two-sided probability of such a slope where the scatter is the same everywhere.
    """

    low: float
    high: float
    sd_low: float
    sd_high: float
    p: float

    @property
    def is_shown(self) -> bool:
        return self.p <= 0.05


def dependence_of(
    levels: Sequence[float], sds: Sequence[float], nus: Sequence[float], resolution: float = 0.0
) -> Dependence | None:
    """The line, or None below three spots with scatter, or where their levels are one.

    A scatter below what rounding to the display's step (`resolution`) makes by itself counts as
    that; without a known step a spot without scatter is left out.
    """
    least = resolution / math.sqrt(12)
    points = [
        (level, max(sd, least), nu)
        for level, sd, nu in zip(levels, sds, nus, strict=True)
        if max(sd, least) > 0 and nu > 0
    ]
    if len(points) < FEWEST or len({level for level, _, _ in points}) < 2:
        return None
    x = [level for level, _, _ in points]
    # The mean of ln s lies below ln sigma by this, the more the fewer readings.
    y = [math.log(sd) - (float(digamma(nu / 2)) - math.log(nu / 2)) / 2 for _, sd, nu in points]
    w = [4 / float(polygamma(1, nu / 2)) for _, _, nu in points]
    total = math.fsum(w)
    x_mean = math.fsum(a * b for a, b in zip(w, x, strict=True)) / total
    y_mean = math.fsum(a * b for a, b in zip(w, y, strict=True)) / total
    sxx = math.fsum(a * (b - x_mean) ** 2 for a, b in zip(w, x, strict=True))
    if not sxx > 0:
        return None
    sxy = math.fsum(a * (b - x_mean) * (c - y_mean) for a, b, c in zip(w, x, y, strict=True))
    slope = sxy / sxx
    low, high = min(x), max(x)
    return Dependence(
        low,
        high,
        math.exp(y_mean + slope * (low - x_mean)),
        math.exp(y_mean + slope * (high - x_mean)),
        float(2 * ndtr(-abs(slope) * math.sqrt(sxx))),
    )
