"""Lines whose number is written otherwise than plainly: with a sign between its thousands, with a
power of ten, without its decimal point. Pure.

Each is explained by lines in which the plain number stands in its place.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import NamedTuple

from acquire.learn.lines.implied import pointed, small, with_implied
from acquire.learn.lines.line import Line
from acquire.learn.lines.span import span_of
from acquire.learn.lines.thousands import may_be_decimals, parted, with_sign
from acquire.learn.numbers.powers import is_power_open, powered, with_power
from acquire.learn.presses.press import Press, decimals_of, tell_enough

Bodies = Sequence[Sequence[str]]
"""The lines of each press."""


class How(NamedTuple):
    """Whether spaces may fill numbers up, and whether the display may have rounded them."""

    is_padded: bool
    is_rounded: bool = False


Plain = Callable[[Sequence[Press], Bodies, How], list[Line]]
"""Gives every explanation by lines whose numbers are plain."""


def thousands(presses: Sequence[Press], bodies: Bodies, plain: Plain) -> list[Line]:
    """Lines whose numbers have a sign between their thousands."""
    explained: dict[str, Line] = {}
    # Which sign stands before decimals is not seen where there are none.
    shown = [press.shown for press in presses]
    is_whole = decimals_of(shown) <= 0
    for sign, point, bare_lines in parted(bodies, shown):
        for is_padded in (True, False):
            found = plain(presses, bare_lines, How(is_padded=is_padded))
            for one in found:
                whole = with_sign(one.pattern, sign)
                if whole and (one.point == point or is_whole) and not one.has_again:
                    doubt = one.doubt or (may_be_decimals(sign, shown) if is_whole else None)
                    sent = replace(one, pattern=whole, thousands=sign, point=point, doubt=doubt)
                    explained.setdefault(whole, sent)
            if found:
                break
    return list(explained.values())


def with_powers(presses: Sequence[Press], bodies: Bodies, plain: Plain) -> list[Line]:
    """Lines whose number has a power of ten; one that is finer than shown tells by enough of it."""
    explained: dict[str, Line] = {}
    shown = [press.shown for press in presses]
    bare = [replace(press, shown=abs(press.shown)) for press in presses]
    for number in powered(bodies, presses):
        if number.is_rounded and not tell_enough(shown):
            continue
        # Rounded looks at each place alone, also where two are the number.
        for one in plain(bare, number.bodies, How(is_padded=True, is_rounded=True)):
            whole = with_power(one.pattern, number) if one.index == number.line else None
            if whole is not None and one.point == number.point and not one.has_again:
                span = span_of(number.texts, shown)
                explained[whole] = replace(
                    one, pattern=whole, power=number.texts[0], is_power_open=is_power_open(number),
                    lost_from=span.lost_from, doubt=one.doubt or span.doubt,
                    rounded=decimals_of(shown) if number.is_rounded else None,
                    has_zeros=True, may_touch=False, sign=None,
                )  # fmt: skip
    return list(explained.values())


def without_point(presses: Sequence[Press], bodies: Bodies, plain: Plain) -> list[Line]:
    """Lines whose number leaves its decimal point out."""
    explained: dict[str, Line] = {}
    for number in pointed(bodies, presses):
        for is_padded in (True, False):
            found = plain(presses, number.bodies, How(is_padded=is_padded))
            for one in found:
                whole = with_implied(one.pattern, number) if one.index == number.line else None
                if whole is not None and not one.has_again:
                    doubt = one.doubt or small([Decimal(text) for text in number.texts])
                    sent = replace(one, pattern=whole, implied_decimals=number.decimals)
                    explained.setdefault(whole, replace(sent, values=number.texts, doubt=doubt))
            if explained:
                break
    return list(explained.values())
