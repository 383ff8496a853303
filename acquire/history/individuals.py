"""Chart of individuals and moving ranges: centre, scatter and limits from a baseline.

ISO 7870-2:2013, 6.5, and e-Handbook of NIST/SEMATECH, 6.3.2.2: sigma is the mean moving range of
neighbours over d2(2), limits lie three of it from the centre, the limit of the moving range is
D4 times its mean. Limits come from the first points of a segment and judge only those after them:
points that set their own limits widen them by their own fault. Too few points get no limits.

The mean moving range of a display that shows the same digits every time is 0, and a scatter of 0
would call the next digit a fault. So sigma is at least what the step of the display leaves unseen,
step/sqrt(12) (JCGM 100:2008, F.2.2.1). Pure; any thread.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from acquire.history.constants import D2, RANGE_UPPER
from acquire.history.lack import Lack
from acquire.history.series import Floats, Marks

LEAST_BASELINE = 8
"""Fewer points leave sigma uncertain by more than a third (its relative uncertainty is about
0.76/sqrt(n - 1) from moving ranges); a rule of this project."""

_WIDTH = 3.0

# One of 19 ranges is above D4 by chance in one baseline of six; a third more, in one of a hundred.
_FAR_ABOVE = 4 / 3
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Baseline:
    """What the points after it are held against; `length` points, unit of the history.

    `is_floor` says that sigma is that of the display and not of the moving ranges. `restless` are
    the places in the baseline whose moving range is far above the limit they helped to set.
    """

    length: int
    centre: float
    sigma: float
    mean_range: float
    is_floor: bool
    restless: tuple[int, ...]

    @property
    def lower(self) -> float:
        return self.centre - _WIDTH * self.sigma

    @property
    def upper(self) -> float:
        return self.centre + _WIDTH * self.sigma

    @property
    def range_upper(self) -> float:
        """Limit of the moving range; D4 d2 sigma, so that the floor of sigma counts here too."""
        return RANGE_UPPER * D2 * self.sigma


@dataclass(frozen=True, slots=True, eq=False)
class Individuals:
    """`z` are the points after the baseline, in sigma from the centre.

    `ranges` are their moving ranges, the first of which reaches back to the last point of the
    baseline; `range_breaches` marks those above their limit.
    """

    baseline: Baseline
    z: Floats
    ranges: Floats
    range_breaches: Marks


def baseline(values: Floats, length: int, floor: float) -> Baseline | Lack:
    """Limits from the first `length` of `values`; `floor` is the least sigma there can be.

    Raises ValueError for a length below `LEAST_BASELINE` or a negative floor.
    """
    if length < LEAST_BASELINE or not floor >= 0:
        raise ValueError(
            f"a baseline of at least {LEAST_BASELINE} points and a floor of at least 0 are "
            f"wanted, got {length} and {floor}"
        )
    if len(values) < length:
        missing = length - len(values)
        return Lack(
            f"Control limits need {length} checks since the meter or the certificate last changed; "
            f"there {_is(len(values))}",
            f"Make {missing} more check{'' if missing == 1 else 's'}; limits come by themselves",
        )
    used = values[:length]
    ranges = np.abs(np.diff(used))
    mean_range = float(ranges.mean())
    sigma = mean_range / D2
    # Equal figures computed as mean less certificate can differ in their last bit.
    dust = 1e-12 * float(np.abs(used).max())
    if max(sigma, floor) <= dust:
        return Lack(
            f"The first {length} checks gave the same figure and the step of the display is not "
            "known, so the scatter is not known either",
            "Give the step of the display (resolution) in the check policy",
        )
    is_floor = sigma < floor
    sigma = max(sigma, floor)
    made = Baseline(length, _mean(used), sigma, mean_range, is_floor, ())
    restless = tuple((np.flatnonzero(ranges > _FAR_ABOVE * made.range_upper) + 1).tolist())
    return Baseline(length, made.centre, sigma, mean_range, is_floor, restless)


def individuals(values: Floats, base: Baseline) -> Individuals:
    """The points after the baseline, judged by it."""
    after = values[base.length :]
    ranges = np.abs(np.diff(values[base.length - 1 :]))
    return Individuals(
        base,
        (after - base.centre) / base.sigma,
        ranges,
        ranges > base.range_upper * (1 + _ROUNDING),
    )


def _mean(values: Floats) -> float:
    """The mean; exactly the figure where all are equal."""
    return float(values[0] + (values - values[0]).mean())


def _is(count: int) -> str:
    return "is 1" if count == 1 else f"are {count}"
