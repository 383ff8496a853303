"""Exponentially weighted moving average of checks: sees a small, lasting shift.

z_i = lambda x_i + (1 - lambda) z_(i-1), z_0 the centre; limits L sigma sqrt(lambda/(2 - lambda))
with the factor sqrt(1 - (1 - lambda)^(2i)) that lets them open at the start (e-Handbook of
NIST/SEMATECH, 6.3.2.4; ISO 7870-6). The exact limits decide; the asymptotic one is for drawing.

Checks come when they come. The average counts checks and not days: the limits above hold for
figures that scatter independently about one centre, whatever time lies between them, and so does
the published run length. A drift that goes on during a gap shows as a larger step after it. Checks
minutes apart share their warm-up and surroundings and are not independent; the opening check of
each sitting alone makes the better history. Pure; any thread.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from acquire.history.series import Floats, Marks

_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class Ewma:
    """In sigma from the centre: the averages, the half-widths of the exact limits and theirs in
    the long run; `beyond` marks averages outside the exact limits."""

    average: Floats
    half_width: Floats
    asymptote: float
    beyond: Marks

    @property
    def is_beyond(self) -> bool:
        """Whether the last average is outside."""
        return bool(len(self.beyond)) and bool(self.beyond[-1])

    def since(self) -> int | None:
        """Where the stretch outside on one side that lasts to the end began, if one does."""
        if not self.is_beyond:
            return None
        others = np.flatnonzero(~self.beyond | (self.average * self.average[-1] < 0))
        return int(others[-1]) + 1 if len(others) else 0


def ewma(z: Floats, weight: float = 0.2, width: float = 3.0) -> Ewma:
    """`weight` is lambda, `width` L; `z` are points in sigma from the centre.

    Raises ValueError outside 0 < lambda <= 1 and L > 0.
    """
    if not (0 < weight <= 1 and width > 0):
        raise ValueError(f"0 < lambda <= 1 and L > 0 are wanted, got {weight} and {width}")
    last, averages = 0.0, []
    for x in z.tolist():
        last += weight * (x - last)
        averages.append(last)
    average = np.array(averages, float)
    asymptote = width * math.sqrt(weight / (2 - weight))
    opening = np.sqrt(1 - (1 - weight) ** (2.0 * np.arange(1, len(z) + 1)))
    half_width = asymptote * opening
    return Ewma(average, half_width, asymptote, np.abs(average) > half_width * (1 + _ROUNDING))
