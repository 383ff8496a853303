"""How much of the gain is kept: (washed - bare) / (applied - bare), with its interval.

The bare reading stands above and below the line, so its error is carried once: the interval is
Fieller's for a ratio of related values (E. C. Fieller, J. R. Statist. Soc. B 16 (1954) 175). It is
bounded only where the gain itself is shown; without a gain there is nothing to keep. A share above
1 or below 0 is possible and is shown. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from acquire.analysis.budget.uncertainty import Budget
from acquire.analysis.laws.student import t_factor
from acquire.analysis.samples.summary import checked


class Value(NamedTuple):
    """A value and its standard uncertainty, in one unit for all of a retention."""

    value: float
    u: float = 0.0


@dataclass(frozen=True, slots=True)
class Kept:
    """The share of the gain kept at `count`, parts of 1, `u` by first order, `low` to `high`.

    All None with `lacking` saying why. `budget` is that of what decides on the share: the gain at
    the count less `share` of the first gain, in the unit of the readings; None where it was not
    made of cells. `is_of_one_zone` is whether it stands on a side with one zone.
    """

    count: float
    share: float | None
    u: float | None = None
    low: float | None = None
    high: float | None = None
    lacking: str = ""
    budget: Budget | None = field(default=None, compare=False)
    is_of_one_zone: bool = field(default=False, compare=False)


def retention_curve(
    bare: Value,
    applied: Value,
    washed: Sequence[tuple[float, Value]],
    *,
    nu: float = math.inf,
    confidence: float = 0.95,
) -> tuple[Kept, ...]:
    """The share at each of the `washed` pairs of count and value, in their order.

    Raises ValueError for uncertainties below 0 or figures that are not finite.
    """
    k = t_factor(nu, confidence)
    for value, u in (bare, applied, *(v for _, v in washed)):
        checked(value)
        if checked(u) < 0:
            raise ValueError(f"an uncertainty of 0 or more is wanted, got {u}")
    gain = applied.value - bare.value
    gain_square = applied.u**2 + bare.u**2
    if abs(gain) <= k * math.sqrt(gain_square):
        why = "no gain was shown before the first wash, so that none can be kept"
        return tuple(Kept(checked(count), None, lacking=why) for count, _ in washed)
    return tuple(_kept(checked(n), bare, v, (gain, gain_square), k) for n, v in washed)


def criterion_at(bare: float, applied: float, lost: float) -> float:
    """The value at which this share of the gain is `lost`; ValueError outside 0 to 1."""
    if not 0 < lost < 1:
        raise ValueError(f"a lost share between 0 and 1 is wanted, got {lost}")
    return checked(bare) + (1 - lost) * (checked(applied) - bare)


def _kept(count: float, bare: Value, washed: Value, gain: tuple[float, float], k: float) -> Kept:
    y, y_square = gain
    x = washed.value - bare.value
    x_square, both = washed.u**2 + bare.u**2, bare.u**2
    share = x / y
    u = math.sqrt(max(0.0, x_square - 2 * share * both + share**2 * y_square)) / abs(y)
    a = y * y - k * k * y_square
    b = x * y - k * k * both
    c = x * x - k * k * x_square
    half = math.sqrt(max(0.0, b * b - a * c))
    return Kept(count, share, u, (b - half) / a, (b + half) / a)
