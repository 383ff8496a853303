"""How far the digits of a number with a power of ten reach the last digit of the display. Pure.

As many digits are sent at any size: a meter that shows 102.3 and sends 1.02E+02 sends 12.3 whole.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from decimal import Decimal
from typing import NamedTuple

from acquire.learn.doubts import Doubt
from acquire.learn.press import decimals_of

_PARTS = re.compile(r"[+-]?([0-9]+)[.,]([0-9]+)[eE]([+-]?[0-9]+)")
_LARGEST_ORDER = 30
_ENOUGH = 2
"""Numbers that a person saw without decimals: of one they may have left out a zero."""


class Span(NamedTuple):
    """From `lost_from` on, either way, the last digit of the display is not sent; None: it is."""

    lost_from: Decimal | None = None
    doubt: Doubt | None = None


def span_of(texts: Sequence[str], shown: Sequence[Decimal]) -> Span:
    """The span of numbers that were sent so and shown so, one after the other."""
    last = _last_digit([text for text, value in zip(texts, shown, strict=True) if value])
    finest = -decimals_of(shown)
    if last is None:
        return Span()
    orders = range(-_LARGEST_ORDER, _LARGEST_ORDER + 1)
    lost = next((order for order in orders if last(order) > finest), None)
    if lost is None:
        return Span()
    pairs = [(t, v) for t, v in zip(texts, shown, strict=True) if v and v.adjusted() >= lost]
    # A display that has fewer decimals there loses nothing.
    while len({v for _, v in pairs if v.adjusted() == lost}) >= _ENOUGH and all(
        last(lost) <= -decimals_of((v,)) for _, v in pairs if v.adjusted() == lost
    ):
        pairs = [(t, v) for t, v in pairs if v.adjusted() > lost]
        lost += 1
    doubt = Doubt(_WITHOUT.format(pairs[0][1], pairs[0][0])) if pairs else None
    return Span(Decimal(1).scaleb(lost), doubt)


_WITHOUT = (
    "{} was shown and {} sent: numbers of that size are sent with fewer digits than smaller ones "
    "are shown with, and what is read may be another number than the one shown. Leave such presses "
    "out (--shown -, or Enter at the question), and they will be noise; or, if the display has no "
    "more digits there either, show another number of that size"
)


def _last_digit(texts: Sequence[str]) -> Callable[[int], int] | None:
    """Which power of ten the last digit has of a number whose first one has this power.

    None if it is always the same.
    """
    parts = [one.groups() for text in texts if (one := _PARTS.fullmatch(text))]
    powers = [int(power) for *_, power in parts]
    decimals = {len(behind) for _, behind, _ in parts}
    if not any(powers):
        # No other power is taken then.
        return None
    if len(decimals) > 1:
        # Zeros at the end are left out, or as many digits in all.
        most = max(len((whole + behind).lstrip("0")) for whole, behind, _ in parts)
        return lambda order: order - most + 1
    (after,) = decimals
    if any(len(whole) > 1 for whole, *_ in parts) and not any(power % 3 for power in powers):
        return lambda order: order // 3 * 3 - after
    numbers = [Decimal(f"{whole}.{behind}E{power}") for whole, behind, power in parts]
    coarsest = max(-len(one.as_tuple().digits) + 1 for one in numbers)
    return lambda order: order + coarsest
