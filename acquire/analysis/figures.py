"""Figures as they are printed: as many digits as the uncertainty leaves meaning to.

Rounding is the last step and happens here only; everything before carries full precision.
Rule: uncertainties to two significant digits, values to the same decimal place
(JCGM 100:2008 (GUM), 7.2.6). Never prints an exponent, a minus zero or NaN. Any thread.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from decimal import ROUND_HALF_EVEN, Context, Decimal
from functools import lru_cache

from acquire.units import symbol

_FLOAT_DIGITS = 17
_WITHOUT_UNCERTAINTY = 4
_MOST_MORE = 12
"""Digits beyond those of the uncertainty: what only they tell apart is noise of binary figures."""
# A float printed to all its digits, and far from one, needs this many places at most.
_WIDE = Context(prec=700, rounding=ROUND_HALF_EVEN)


@lru_cache(maxsize=256)
def suffix(unit: str) -> str:
    """What follows a figure in a sentence: space and symbol; nothing for a pure number."""
    sign = symbol(unit)
    return f" {sign}" if sign else ""


@lru_cache(maxsize=8192)
def rounded(value: float, uncertainty: float | None) -> str:
    """`value` to the decimal place of the second significant digit of `uncertainty`.

    Without an uncertainty (None or 0) four significant digits are printed. Both must be finite,
    else ValueError. Minus is the sign U+2212.
    """
    if not math.isfinite(value) or (uncertainty is not None and not math.isfinite(uncertainty)):
        raise ValueError(f"finite figures are wanted, got {value} and {uncertainty}")
    exact = Decimal(repr(float(value)))
    if uncertainty:
        place = _place_of(float(uncertainty))
    elif exact:
        place = _place(exact, _WITHOUT_UNCERTAINTY)
    else:
        place = 0
    return _written(_at(exact, place))


@lru_cache(maxsize=8192)
def signed(value: float, uncertainty: float | None) -> str:
    """As `rounded`, with a plus before positive figures; a figure that rounds to 0 has no sign."""
    return with_plus(rounded(value, uncertainty))


def with_plus(text: str) -> str:
    """A printed figure with a plus before it if it is above 0."""
    return text if text.startswith("−") or not any(d in "123456789" for d in text) else "+" + text


@lru_cache(maxsize=4096)
def limits(
    low: float, high: float, uncertainty: float, beside: tuple[float, ...] = (0.0,)
) -> tuple[str, str]:
    """Both ends of an interval as `rounded`, on the side of each figure `beside` that they are on.

    A decision goes by the side of an end: one that lies 0.004 above 0 must not be printed as 0.00
    behind a "better". Where it would be, both ends get the digits that it takes. An end that meets
    such a figure is on neither side. Raises ValueError as `rounded`, which prints what has no
    uncertainty (0).
    """
    usual = rounded(low, uncertainty), rounded(high, uncertainty)
    if not uncertainty:
        return usual
    ends = [Decimal(repr(float(end))) for end in (low, high)]
    marks = [Decimal(repr(float(mark))) for mark in beside]

    def is_told(place: int) -> bool:
        return all(
            end == mark or end.compare(mark) == _at(end, place).compare(mark)
            for end in ends
            for mark in marks
        )

    place = _first_that(is_told, uncertainty)
    first, last = (_written(_at(end, place)) for end in ends)
    return first, last


def span(low: float, high: float, uncertainty: float, beside: tuple[float, ...] = (0.0,)) -> str:
    """An interval of a difference, ``+0.004 to +1.180``, both ends signed; else as `limits`."""
    first, last = limits(low, high, uncertainty, beside)
    return f"{with_plus(first)} to {with_plus(last)}"


def with_reach(value: float, reach: float) -> tuple[str, str]:
    """A figure, signed, and its half width, with the digits that show which of them is larger.

    Raises ValueError as `limits`.
    """
    figure, half = reach_from(0.0, value, reach)
    return with_plus(figure), half


@lru_cache(maxsize=4096)
def reach_from(mark: float, value: float, reach: float) -> tuple[str, str]:
    """As `with_reach` without a plus: whether the half width is more than what lies to `mark`."""
    usual = rounded(value, reach), rounded(reach, reach)
    if not reach:
        return usual
    exact, half = Decimal(repr(float(value))), Decimal(repr(abs(float(reach))))
    at = Decimal(repr(float(mark)))
    away = abs(exact - at)

    def is_told(place: int) -> bool:
        printed = abs(_at(exact, place) - at)
        return away == half or away.compare(half) == printed.compare(_at(half, place))

    place = _first_that(is_told, reach)
    return _written(_at(exact, place)), _written(_at(half, place))


def _first_that(is_told: Callable[[int], bool], uncertainty: float) -> int:
    """The place of the uncertainty, or the first one beyond it that tells figures apart."""
    usual = _place_of(float(uncertainty))
    further = range(usual, usual - _MOST_MORE - 1, -1)
    return next((place for place in further if is_told(place)), usual)


def probability(p: float) -> str:
    """A p-value with its sign of relation: ``= 0.23``, ``= 0.034``, ``= 0.0042``, ``< 0.0001``."""
    figure = probability_figure(p)
    return figure if figure.startswith("<") else f"= {figure}"


def probability_figure(p: float) -> str:
    """The same for a column of a table, without the equals sign.

    About 0.05 with a digit more, since on which side of it one lies is said beside it.
    """
    if p < 1e-4:
        return "< 0.0001"
    places = 2 if p >= 0.1 else 3 if p >= 0.01 else 4
    return f"{p:.4f}" if f"{p:.3f}" == "0.050" and p != 0.05 else f"{p:.{places}f}"


def beyond(value: float, limit: float, places: int = 2) -> tuple[str, str]:
    """Both with as many decimals as tell them apart, `places` at least and six at most."""
    while places < 6 and f"{value:.{places}f}" == f"{limit:.{places}f}":
        places += 1
    return f"{value:.{places}f}", f"{limit:.{places}f}"


def _at(exact: Decimal, place: int) -> Decimal:
    """Rounded to the power of ten of its last digit."""
    # Digits beyond those of a float would be invented.
    last = max(place, exact.adjusted() - _FLOAT_DIGITS + 1)
    return exact.quantize(_step(last), context=_WIDE)


def _written(figure: Decimal) -> str:
    text = format(abs(figure), "f")
    return "−" + text if figure < 0 else text


@lru_cache(maxsize=1024)
def _place_of(uncertainty: float) -> int:
    """As `_place` to two digits: a value, its limits and its reach are printed by one figure."""
    return _place(Decimal(repr(abs(uncertainty))), 2)


def _place(figure: Decimal, digits: int) -> int:
    """The power of ten of the last of `digits` significant digits, after rounding to them."""
    place = figure.adjusted() - digits + 1
    # 0.0996 becomes 0.100 at this place, whose second digit lies one place higher.
    return figure.quantize(_step(place), context=_WIDE).adjusted() - digits + 1


@lru_cache(maxsize=1024)
def _step(place: int) -> Decimal:
    return Decimal(1).scaleb(place)
