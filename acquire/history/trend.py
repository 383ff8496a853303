"""A straight line through deviations against time, with what it says of a check to come.

Ordinary least squares, or weighted by known standard uncertainties. With d the days from the
weighted mean day, the variance of the line is v0 + vs d^2, that of one further check is larger by
the scatter of a check. Ordinary: v0 = s^2/n, vs = s^2/Sxx, n - 2 degrees of freedom (e-Handbook of
NIST/SEMATECH, 4.5.2.1; ISO 11095). Weighted: w = 1/u^2, v0 = 1/sum(w), vs = 1/sum(w d^2) with the
normal law; where the points scatter more than their u allow (chi^2 above its degrees of freedom)
both grow by that ratio and Student's t replaces the normal law.

The step of the display bounds the scatter from below: figures that all sit on one digit do not
make a line exact. Nothing is said of what lies between the checks. Pure; any thread.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from acquire.analysis.laws.student import t_factor, two_sided_p
from acquire.history.lack import Lack
from acquire.history.series import Floats

LEAST_POINTS = 3

# What is computed as mean less certificate errs in its last digits.
_DUST = 1e-12


class Predicted(NamedTuple):
    """At one day: the line, its own interval, and the interval of one further check."""

    value: float
    line_low: float
    line_high: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Line:
    """A fitted line: `level` at day `mean_day`, `slope` per day with its interval and p-value.

    `scatter` is the standard deviation of one check about the line, `df` may be infinite;
    `explained` is R^2, 0 where there was nothing to explain. `p` tests a slope of 0.
    """

    count: int
    mean_day: float
    first_day: float
    last_day: float
    level: float
    slope: float
    u_level: float
    u_slope: float
    scatter: float
    df: float
    confidence: float
    p: float
    explained: float
    is_weighted: bool

    @property
    def factor(self) -> float:
        return t_factor(self.df, self.confidence)

    @property
    def slope_interval(self) -> tuple[float, float]:
        half = self.factor * self.u_slope
        return self.slope - half, self.slope + half

    @property
    def is_resolved(self) -> bool:
        """Whether the slope differs from 0 at the level of confidence."""
        return abs(self.slope) > self.factor * self.u_slope

    def at(self, day: float) -> Predicted:
        """The line and one further check at `day`."""
        d = day - self.mean_day
        value = self.level + self.slope * d
        u = math.hypot(self.u_level, self.u_slope * d)
        line, check = self.factor * u, self.factor * math.hypot(u, self.scatter)
        return Predicted(value, value - line, value + line, value - check, value + check)

    def stands(self, day: float) -> Predicted:
        """As `at`, but at its level where up and down cannot be told apart.

        Such a slope is no more than what the scatter left over; carried on it would lead anywhere.
        """
        return self.at(day if self.is_resolved else self.mean_day)


def ordinary(
    days: Floats, values: Floats, *, confidence: float = 0.95, floor: float = 0.0
) -> Line | Lack:
    """The line of least squares; `floor` is the least scatter of a check there can be."""
    poor = _too_poor(days, floor, confidence)
    if poor is not None:
        return poor
    count = len(days)
    mean_day, d = _centred(days, None)
    first, y = _centred(values, None)
    spread = float(d @ d)
    slope = float(d @ y) / spread
    left = y - slope * d
    residual, total = float(left @ left), float(y @ y)
    df = count - 2
    scatter = max(math.sqrt(residual / df), floor, _DUST * float(np.abs(values).max()))
    u_slope = scatter / math.sqrt(spread)
    return Line(
        count=count,
        mean_day=mean_day,
        first_day=float(days.min()),
        last_day=float(days.max()),
        level=first,
        slope=slope,
        u_level=scatter / math.sqrt(count),
        u_slope=u_slope,
        scatter=scatter,
        df=df,
        confidence=confidence,
        p=_p(slope, u_slope, df),
        explained=max(0.0, 1 - residual / total) if total > 0 else 0.0,
        is_weighted=False,
    )


def weighted(
    days: Floats, values: Floats, u: Floats, *, confidence: float = 0.95, floor: float = 0.0
) -> Line | Lack:
    """The line weighted by the standard uncertainties `u`, none taken below `floor`.

    A further check is taken to be as uncertain as the middle one of these.
    """
    poor = _too_poor(days, floor, confidence)
    if poor is not None:
        return poor
    known = np.maximum(u, max(floor, _DUST * float(np.abs(values).max())))
    if not known.min() ** 2 > 0:
        return Lack(
            "Some checks state no uncertainty of their mean, so none can be weighed by it",
            "Give the step of the display (resolution), or use the line without weights",
        )
    # Weights relative to the best check keep squares in range.
    best = float(known.min())
    weight = (best / known) ** 2
    mean_day, d = _centred(days, weight)
    level, y = _centred(values, weight)
    spread = float((weight * d) @ d)
    if not spread > 0:
        return _NO_SPAN
    slope = float((weight * d) @ y) / spread
    left = y - slope * d
    residual, total = float((weight * left) @ left), float((weight * y) @ y)
    count = len(days)
    ratio = residual / (best * best) / (count - 2)
    df = count - 2 if ratio > 1 else math.inf
    grown = best * math.sqrt(max(1.0, ratio))
    u_slope = grown / math.sqrt(spread)
    return Line(
        count=count,
        mean_day=mean_day,
        first_day=float(days.min()),
        last_day=float(days.max()),
        level=level,
        slope=slope,
        u_level=grown / math.sqrt(float(weight.sum())),
        u_slope=u_slope,
        scatter=float(np.median(known)) * math.sqrt(max(1.0, ratio)),
        df=df,
        confidence=confidence,
        p=_p(slope, u_slope, df),
        explained=max(0.0, 1 - residual / total) if total > 0 else 0.0,
        is_weighted=True,
    )


_NO_SPAN = Lack("All checks were made at one moment", "Check again on another day")


def _too_poor(days: Floats, floor: float, confidence: float) -> Lack | None:
    if not (floor >= 0 and 0 < confidence < 1):
        raise ValueError(
            "a floor of at least 0 and a confidence between 0 and 1 are wanted, got "
            f"{floor} and {confidence}"
        )
    if len(days) < LEAST_POINTS:
        return Lack(
            f"A trend needs {LEAST_POINTS} checks since the meter or the certificate last changed; "
            f"there {'is 1' if len(days) == 1 else f'are {len(days)}'}",
            "Go on checking; the trend comes by itself",
        )
    if not float(days.max()) > float(days.min()):
        return _NO_SPAN
    return None


def _centred(values: Floats, weight: Floats | None) -> tuple[float, Floats]:
    """The (weighted) mean and the values from it; exactly 0 where all are equal."""
    from_first = values - values[0]
    if weight is None:
        mean = float(from_first.mean())
    else:
        mean = float(weight @ from_first) / float(weight.sum())
    return float(values[0]) + mean, from_first - mean


def _p(slope: float, u_slope: float, df: float) -> float:
    if slope == 0:
        return 1.0
    if u_slope == 0 or math.isinf(slope / u_slope):
        return 0.0
    return two_sided_p(slope / u_slope, df)
