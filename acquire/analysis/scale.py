"""In which terms differences are formed and said: in the unit of the readings, or as ratios.

Gloss and force are compared by differences. A film is judged by its transmittance over that of
its blank, and a ratio is a difference of logarithms: ln(T_film) = ln(T_sample) - ln(T_blank). So
everything that is built for differences holds for ratios (limits, pairs, drift, equality), in
relative units, and only what is printed is turned back (`exp`). Relative uncertainties of products
and quotients add up in squares: JCGM 100:2008 (GUM), 5.1.6. Pure; any thread.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from acquire.analysis.figures import (
    limits,
    reach_from,
    rounded,
    signed,
    span,
    suffix,
    with_reach,
)

PERCENT = 100.0
NO_DIFFERENCE = (0.0,)
"""What an interval of a difference is held against: that there is none."""
TAKEN_AT_SIZE = "what head, readings and slides do to it is taken at that size"
"""Said where a smallest visible difference of films stands beside a larger half width."""
MOST_LOGARITHM = 50.0
"""exp of more is printed by nobody; up to here nothing overflows."""


@dataclass(frozen=True, slots=True)
class Scale:
    """Differences in `unit`, the unit of the readings. Texts of figures come without the unit.

    `what` names the measured thing where its name must stand beside every figure; else empty.
    """

    unit: str
    what: str = ""

    @property
    def is_ratio(self) -> bool:
        return False

    @property
    def suffix(self) -> str:
        """What follows a printed figure."""
        return suffix(self.unit)

    def figure(self, value: float, u: float | None) -> str:
        """A difference with its sign, to the place that `u` leaves meaning to."""
        return signed(value, u)

    def width(self, value: float, u: float) -> str:  # noqa: ARG002 - a ratio needs it
        """The half width `u` around `value`."""
        return rounded(u, u)

    def span(
        self, low: float, high: float, u: float, beside: tuple[float, ...] = NO_DIFFERENCE
    ) -> str:
        """An interval, to the place of the half width `u`, or to the one that shows on which side
        of each difference `beside` its ends lie (`acquire.analysis.figures.limits`)."""
        return span(low, high, u, beside)

    def reached(self, value: float, u: float) -> str:
        """A difference and its half width, ``+0.59 ± 0.23 GU``, which shows the larger one.

        For where no interval stands beside it, but what was decided by one.
        """
        figure, half = self.reach(value, u)
        return f"{figure} ± {half}{self.suffix}"

    def reach(self, value: float, u: float) -> tuple[str, str]:
        """Both of `reached`, without the unit."""
        return with_reach(value, u)

    def size(self, size: float, u: float) -> str:
        """How large a difference is, whichever its sign."""
        return rounded(size, u)

    def seen(self, size: float, u: float, towards: float) -> str:  # noqa: ARG002 - of ratios
        """How large a difference to the side of `towards` is; up and down are alike."""
        return self.size(size, u)

    def taken_at(self, size: float, u: float) -> str:  # noqa: ARG002 - of ratios
        """What a smallest visible difference needs said of it beside the half width `u`: nothing,
        as it is never the smaller one."""
        return ""

    def margin(self, margin: float) -> str:
        """The margin of the plan with its unit: ``±1 GU``."""
        return f"±{margin:g}{self.suffix}"

    def of_plan(self, margin: float) -> float:
        """A margin as the plan has it, in the terms of the differences."""
        return margin

    def apart(self, first: float, second: float, u: float) -> str:
        """What lies between two differences, the first less the second."""
        return signed(first - second, u)


@dataclass(frozen=True, slots=True)
class RatioScale(Scale):
    """Differences of natural logarithms, printed as ratios in percent.

    The unit of estimates and uncertainties is one (relative). Around a ratio R the interval from
    R exp(-U) to R exp(U) is not symmetric; its upper, larger half is what is printed as the half
    width. `margin` m percent: equal are ratios from 1/(1 + m/100) to 1 + m/100.
    """

    @property
    def is_ratio(self) -> bool:
        return True

    @property
    def suffix(self) -> str:
        return suffix("percent")

    def figure(self, value: float, u: float | None) -> str:
        return rounded(_percent(value), _half(value, u) if u else None)

    def width(self, value: float, u: float) -> str:
        half = _half(value, u)
        return rounded(half, half)

    def span(
        self, low: float, high: float, u: float, beside: tuple[float, ...] = NO_DIFFERENCE
    ) -> str:
        half = _half((low + high) / 2, u)
        first, last = limits(
            _percent(low), _percent(high), half, tuple([_percent(mark) for mark in beside])
        )
        return f"{first} to {last}"

    def reached(self, value: float, u: float) -> str:
        """Of a ratio above 100 % the half width, the upper one, may reach it although the lower end
        does not: then the interval is told."""
        if value > u > 0 and _percent(value) - _half(value, u) <= PERCENT:
            ends = self.span(value - u, value + u, u)
            return f"{self.figure(value, u)}{self.suffix}, 95 % from {ends}{self.suffix}"
        return super(RatioScale, self).reached(value, u)

    def reach(self, value: float, u: float) -> tuple[str, str]:
        return reach_from(PERCENT, _percent(value), _half(value, u))

    def size(self, size: float, u: float) -> str:
        return rounded(PERCENT * math.expm1(_held(size)), _half(0.0, u))

    def seen(self, size: float, u: float, towards: float) -> str:
        """A ratio falls by 1 - exp(-size), which is less than it rises by.

        Of a deep film it lies far below the half width, and has its own digits.
        """
        change = PERCENT * abs(math.expm1(_held(math.copysign(size, towards))))
        return rounded(change, min(_half(0.0, u), change))

    def taken_at(self, size: float, u: float) -> str:
        """Of films it may be the smaller one, and then why."""
        return "" if size >= u else f" ({TAKEN_AT_SIZE})"

    def margin(self, margin: float) -> str:
        return f"±{PERCENT * math.expm1(margin):.6g} %"

    def of_plan(self, margin: float) -> float:
        return math.log1p(margin / PERCENT)

    def apart(self, first: float, second: float, u: float) -> str:
        """In percent of the second."""
        return signed(PERCENT * math.expm1(_held(first - second)), _half(0.0, u))


def ratio_scale(what: str) -> RatioScale:
    """The scale of films; `what` has band and weights."""
    return RatioScale("one", what)


def _percent(value: float) -> float:
    return PERCENT * math.exp(_held(value))


def _half(value: float, u: float) -> float:
    return _percent(value) * math.expm1(_held(u))


def _held(value: float) -> float:
    return max(-MOST_LOGARITHM, min(MOST_LOGARITHM, value))
