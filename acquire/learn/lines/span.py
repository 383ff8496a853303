"""How far the digits of a number with a power of ten reach the last digit of the display. Pure.

As many digits are sent at any size: a meter that shows 102.3 and sends 1.02E+02 sends 12.3 whole.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from typing import NamedTuple

from acquire.learn.pieces.doubts import Doubt
from acquire.learn.presses.press import decimals_of

_PARTS = re.compile(r"[+-]?([0-9]+)[.,]([0-9]+)[eE]([+-]?[0-9]+)")
_LARGEST_ORDER = 30
_GROUP = 3
"""Some keep the power a multiple of it, and have as many digits before the point."""
_ENOUGH = 2
"""Numbers that a person saw without decimals: of one they may have left out a zero."""


class Span(NamedTuple):
    """From `lost_from` on, either way, the last digit of the display is not sent; None: it is."""

    lost_from: Decimal | None = None
    doubt: Doubt | None = None


def span_of(texts: Sequence[str], shown: Sequence[Decimal]) -> Span:
    """The span of numbers that were sent so and shown so, one after the other."""
    last = _last_digit(texts)
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

    None if nothing but zeros was sent.
    """
    sent = [one.groups() for text in texts if (one := _PARTS.fullmatch(text))]
    parts = [one for one in sent if (one[0] + one[1]).strip("0")]
    if not parts:
        return None
    decimals = {len(behind) for _, behind, _ in parts}
    if len(decimals) == 1 and not any(int(power) for *_, power in sent):
        # No other power is taken then.
        return lambda _: -max(decimals)
    if all(len(whole) == 1 for whole, *_ in parts):
        # Where they differ zeros at the end are left out.
        most = max(len((whole + behind).lstrip("0")) for whole, behind, _ in parts)
        return lambda order: order - most + 1
    if any(int(power) % _GROUP for *_, power in parts):
        least = min(len((whole + behind).lstrip("0")) for whole, behind, _ in parts)
        return lambda order: order - least + 1
    # Of one, two and three digits before the point, by how many were seen behind it.
    behind_of = {
        size: max(len(behind) for whole, behind, _ in parts if len(whole) == size)
        for size in {len(whole) for whole, *_ in parts}
    }
    return lambda order: order // _GROUP * _GROUP - _decimals(behind_of, order % _GROUP + 1)


def _decimals(behind_of: Mapping[int, int], size: int) -> int:
    """How many digits stand behind so many before the point, for all that was seen at least."""
    if len(behind_of) > 1 and len(set(behind_of.values())) == 1:
        return next(iter(behind_of.values()))
    larger = [behind_of[other] for other in sorted(behind_of) if other >= size][:1]
    smaller = [max(0, behind_of[other] - size + other) for other in behind_of if other < size]
    return behind_of.get(size, min(larger + smaller))
