"""How far a learned number is believed: what the display can show, as far as presses or a person
have told. Pure.

A number that stands in text says itself what it is. Bits do not: a sign that nobody has seen may be
sent in another way, and a bit above those that the numbers of the lesson needed may be a flag.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from typing import NamedTuple

from acquire.learn.numbers.digits import Room
from acquire.learn.numbers.leadzeros import below
from acquire.learn.numbers.number import EXACT, NumberAt
from acquire.learn.presses.press import About, decimals_of
from acquire.model import Quantity

_TIMES = {"digits": 10, "float32": 5, "float64": 5}
"""So many times the largest force that was shown are believed where nobody said how far it goes."""
_OTHERWISE = 2


class Limits(NamedTuple):
    """From `least` to `most` with at most so many decimals.

    `is_below_unseen`: below zero nothing was shown, and numbers there are noise for that alone.
    `is_most_guessed`: how far the display goes was taken from the presses.
    """

    least: Decimal
    most: Decimal
    decimals: int
    is_below_unseen: bool
    is_most_guessed: bool

    def holds(self, value: Decimal) -> bool:
        """Whether the profile will take this value."""
        return self.least <= value <= self.most

    def in_places(self, top: Decimal | None, about: About) -> Limits:
        """Below `top`, where zeros begin that no press had otherwise; so far as nobody said more.

        A digit before a number that was always 0 may be no place of it: another one is not read.
        """
        if top is None or about.most is not None:
            return self
        most = min(self.most, below(top, self.decimals))
        least = (
            self.least if about.least is not None else max(self.least, -below(top, self.decimals))
        )
        return self._replace(
            least=least, most=most, is_most_guessed=self.is_most_guessed or most < self.most
        )

    def within(self, room: Room | None, shown: Sequence[Decimal], *, is_said: bool) -> Limits:
        """No further than digits have room; `is_said`: how far the display goes a person said."""
        if room is None or room.least is None or room.most is None:
            return self
        least = max(self.least, min(room.least, *shown))
        most = min(self.most, max(room.most, *shown))
        is_guessed = (self.is_most_guessed or most < self.most) and not is_said
        return Limits(least, most, self.decimals, self.is_below_unseen, is_guessed)


def of_text(about: About, shown: Sequence[Decimal], *, has_point: bool = True) -> Limits:
    """The limits of numbers that stand in text; `has_point`: with the decimals that are shown.

    A meter may send -1 for a press that failed (common practice, no source), and beside whole
    numbers it looks like one: it is none where no press and nobody said that the display goes below
    zero.
    """
    low, high = about.reach(shown)
    decimals = decimals_of(shown)
    is_whole = not (decimals and has_point)
    is_below_unseen = is_whole and low < 0 <= min(shown, default=low) and about.least is None
    low = Decimal(0) if is_below_unseen else low
    # A display that has shown as much as any was thought to may show more.
    is_guessed = about.most is None and (about.kind is Quantity.FORCE or high in shown)
    most = _below_round(high, about, shown)
    return Limits(low, most, decimals, is_below_unseen, is_guessed)


def within(limits: Limits, lost_from: Decimal | None) -> Limits:
    """The limits of numbers whose last digits are lost from there on, either way."""
    if lost_from is None:
        return limits
    top = lost_from - EXACT.scaleb(Decimal(1), -limits.decimals)
    return limits._replace(
        least=max(limits.least, -top), most=min(limits.most, top),
        is_most_guessed=limits.is_most_guessed and limits.most <= top,
    )  # fmt: skip


def of_number(
    number: NumberAt, about: About, shown: Sequence[Decimal], *, is_proven: bool = True
) -> Limits:
    """The limits of a number in a frame.

    `is_proven`: no further than the bits go that presses have shown. Else as far as it may go.
    """
    low, high = about.reach(shown)
    # A display that has shown as much as any was thought to may show more.
    is_guessed = about.most is None and (about.kind is Quantity.FORCE or high in shown)
    high = _below_round(high, about, shown)
    if is_guessed and about.kind is Quantity.FORCE:
        high = min(high, _guessed(number, shown))
    if about.most is None:
        tops = [number.proven(shown) if is_proven else None, number.half]
        for top in tops:
            if top is not None and max(shown) <= top < high:
                high, is_guessed = top, True
    full, empty = number.ends if is_proven else (None, None)
    step = EXACT.scaleb(Decimal(1), -number.power)
    bits = [number.half, number.proven(shown)] if is_proven and is_guessed else []
    # What its largest bits mean was shown by a number below zero as well.
    far = max(map(abs, shown))
    for top, largest in ((full, max(shown)), *((top, far) for top in bits)):
        # All ones, or all nines, is what many send for a number beyond the display.
        # Who says that the display goes just there has said that it shows this one.
        if top is not None and largest < top <= high and top != about.most:
            high = min(high, top - step)
    # Room for no more than that ends the other side as well, and what was said is not kept.
    if full is not None and high < full <= about.reach(shown)[1]:
        is_guessed = True
    is_ending = empty is None or about.least is None
    if full is not None and is_ending and low <= -full != about.least:
        low = min(step - full, *shown)
    if empty is not None and low <= empty < min(shown) and empty != about.least:
        low = empty + step
    if about.kind is Quantity.FORCE and is_guessed and about.least is None:
        low = min(max(low, -high), *shown)
    has_sign = min(shown, default=Decimal(0)) < 0
    is_legible = number.type == "digits" or (number.type.startswith("float") and low_said(about))
    is_unseen = not has_sign and not is_legible
    decimals = decimals_of(shown)
    least = Decimal(0) if is_unseen else _shown(low, decimals, ROUND_CEILING)
    most = _shown(high, decimals, ROUND_FLOOR)
    return Limits(least, most, decimals, is_unseen and low < 0, is_guessed)


def _shown(limit: Decimal, decimals: int, rounding: str) -> Decimal:
    """The next number within a limit that a display of so many decimals can show."""
    return limit.quantize(Decimal(1).scaleb(-decimals), rounding=rounding, context=EXACT)


def low_said(about: About) -> bool:
    """Whether somebody said how far below zero it goes."""
    return about.least is not None and about.least < 0


def _below_round(high: Decimal, about: About, shown: Sequence[Decimal]) -> Decimal:
    """A round limit that nobody said is itself beyond: 200 begins with a digit that 199.9 lacks."""
    if about.most is not None or about.kind is Quantity.FORCE or high in shown:
        return high
    return high - EXACT.scaleb(Decimal(1), -decimals_of(shown))


def _guessed(number: NumberAt, shown: Sequence[Decimal]) -> Decimal:
    largest = max((abs(value) for value in shown), default=Decimal(0)) or Decimal(1)
    return largest * _TIMES.get(number.type, _OTHERWISE)
