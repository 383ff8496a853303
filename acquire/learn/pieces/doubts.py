"""Why a number of a line may be none of the display even though it was, at every press. Pure.

A text says its digits itself, and yet three presses can agree by chance: with the first digits of a
longer number that the display cuts off, with digits in another base, with the largest value so far.
Each doubt names the press that settles it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import ROUND_DOWN, ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal
from itertools import pairwise
from typing import NamedTuple

from acquire.learn.pieces.column import is_count
from acquire.learn.presses.press import About, decimals_of
from acquire.model import Quantity

_ROUNDINGS = (ROUND_HALF_UP, ROUND_HALF_EVEN, ROUND_DOWN)
_MOST_DECIMALS = 3
_LARGEST_DIGIT = 9


class Doubt(NamedTuple):
    """In plain words, and a number from which on, up or down, a press would settle it.

    `next_step` is what to do where it is something else than a further press, and `wanted` what
    that leads to. `is_anew`: no further press settles it, and all are to be made anew.
    """

    why: str
    tell_above: Decimal | None = None
    tell_below: Decimal | None = None
    next_step: str = ""
    wanted: str = ""
    is_anew: bool = False


def doubt_of(
    values: Sequence[str], behind: Sequence[str], shown: Sequence[Decimal],
    free: Sequence[Sequence[str]],
) -> Doubt | None:  # fmt: skip
    """The doubt that is left of a number; None if there is none.

    `values` are its texts, `behind` what follows it in its line, `free` the texts of columns beside
    it in which anything may stand.
    """
    if _may_go_on(values, behind, shown):
        return Doubt(
            "the digits behind the number may be decimals of it that the display does not show: "
            "press on something whose last digits would be rounded up then"
        )
    if _may_be_hexadecimal(values, shown):
        return Doubt(
            "the number may be sent in hexadecimal digits: they are the same up to 9",
            tell_above=Decimal(_LARGEST_DIGIT + 1),
        )
    return rising(shown) if any(_may_be_value(column) for column in free) else None


def in_brackets(
    before: Sequence[str], behind: Sequence[str], about: About, shown: Sequence[Decimal]
) -> Doubt | None:
    """The doubt of a number between round brackets: so some write those below zero."""
    is_between = "".join(before).endswith("(") and "".join(behind).startswith(")")
    if not is_between or about.kind is not Quantity.FORCE or about.reach(shown)[0] >= 0:
        return None
    return Doubt(
        "round brackets stood about the number at every press, as some write numbers below zero: "
        "press the other way, or say --least 0 if the display never goes below zero",
        tell_below=-Decimal(1).scaleb(-decimals_of(shown)),
    )


def rising(shown: Sequence[Decimal]) -> Doubt | None:
    """The doubt of numbers that never fell, where something beside them may be the number."""
    if len(set(shown)) < 2 or any(b < a for a, b in pairwise(shown)):
        return None
    return Doubt(
        "the numbers only rose: this one may be the largest so far, and what changes beside it the "
        "number itself; press once more on something that reads less than a press before",
        tell_below=max(shown),
    )


OTHER_WORDS = "every press had another word beside its number"


def of_words(words: Sequence[str]) -> Doubt | None:
    """The doubt of words of which every press had another one; None where there are none."""
    if not words:
        return None
    return Doubt(
        f"{OTHER_WORDS}: {', '.join(map(repr, words))}. Which "
        "words may stand there is not known before one of them has come again: press once more on "
        "something that reads much like one of these presses"
    )


def has_other_words(doubt: Doubt | None) -> bool:
    """Whether a doubt is one of words of which every press had another one."""
    return doubt is not None and doubt.why.startswith(OTHER_WORDS)


def _may_be_value(column: Sequence[str]) -> bool:
    """Whether what changes there may follow the presses: it never came again."""
    return len(set(column)) == len(column) and not is_count(column)


def _may_go_on(values: Sequence[str], behind: Sequence[str], shown: Sequence[Decimal]) -> bool:
    tails = [re.match("[.,]([0-9]+)", text) for text in behind]
    if any(tail is None for tail in tails) or any("." in v or "," in v for v in values):
        return False
    digits = [tail[1] for tail in tails if tail is not None]
    if max(map(len, digits)) > _MOST_DECIMALS or is_count(digits) or len(set(digits)) == 1:
        return False
    decimals = decimals_of(shown)
    unit = Decimal(1).scaleb(-decimals)
    finer = [
        Decimal(f"{value.strip(' +')}.{tail}") for value, tail in zip(values, digits, strict=True)
    ]
    for rounding in _ROUNDINGS:
        # A display that cuts all decimals off shows what is read here.
        is_harmless = rounding == ROUND_DOWN and not decimals
        fits = all(f.quantize(unit, rounding) == s for f, s in zip(finer, shown, strict=True))
        if fits and not is_harmless:
            return True
    return False


def _may_be_hexadecimal(values: Sequence[str], shown: Sequence[Decimal]) -> bool:
    is_whole = all(text.strip(" ").isdecimal() for text in values)
    return is_whole and decimals_of(shown) == 0 and max(map(abs, shown)) <= _LARGEST_DIGIT
