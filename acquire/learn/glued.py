"""Two numbers of a line with a point or a comma between them, which look like one. Pure.

`0001,20` may be a count and a geometry, or a count and a status, and so `20,0001`. As one number
its digits would be free where those of two are held.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from acquire.learn.angles import ANGLES
from acquire.learn.column import Column, is_constant
from acquire.learn.counting import counting
from acquire.learn.doubts import Doubt
from acquire.learn.gauges import is_measured
from acquire.learn.units import TOUCHING

_WIDE, _WIDER = 3, 4
"""Digits of a count that zeros fill up, behind a geometry and behind any number."""
_NO_TEMPERATURES = ANGLES[1:]
_LEAST_DIGITS = 2
"""A single decimal that stood still is held in any case."""


def taken_apart(columns: Sequence[Column], point: str) -> list[Column]:
    """The columns, with three in the place of each one that is two numbers and what parts them."""
    made: list[Column] = []
    place = 0
    while place < len(columns):
        column = columns[place]
        texts = _halves(column, point)
        place += 1
        if texts is None or not are_two(*texts, is_measured=is_measured(columns, place - 1)):
            made.append(column)
            continue
        word, size = _with_letters(texts[1], columns[place : place + 1])
        signs = Column(point, (point,) * len(column.texts))
        made += [Column("alnum", texts[0]), signs, Column("alnum", word)]
        place += size
    return made


def _with_letters(digits: tuple[str, ...], behind: Sequence[Column]) -> tuple[tuple[str, ...], int]:
    """Digits with letters that touch them, but for a unit; and how many columns these are."""
    letters = behind[0].texts if behind and behind[0].kind == "alnum" else ()
    is_word = all(text[:1].isalpha() and not re.match(TOUCHING, text) for text in letters)
    if not (letters and is_word):
        return digits, 0
    return tuple(a + b for a, b in zip(digits, letters, strict=True)), 1


def _halves(column: Column, point: str) -> tuple[tuple[str, ...], tuple[str, ...]] | None:
    """What stands before the points of numbers and behind them; None where not all have one."""
    if column.kind != "decimal" or is_constant(column.texts):
        return None
    rows = [text.partition(point) for text in column.texts]
    wholes, points, decimals = (tuple(texts) for texts in zip(*rows, strict=True))
    return (wholes, decimals) if all(points) else None


def are_two(wholes: Sequence[str], decimals: Sequence[str], *, is_measured: bool = False) -> bool:
    """Whether one of them counts, or the second one is a geometry or says again what it said.

    The decimals of a number that moves are others at every press, but by a rare chance.
    `is_measured`: a unit or a label says that what stood still before the point is part of one.
    """
    if set(decimals) <= set(ANGLES):
        return True
    is_still = is_constant(decimals)
    comes_again = len(set(decimals)) < len(decimals)
    counted = counting([whole.strip(" ") for whole in wholes])
    if counted is not None and (counted.is_proven or (comes_again and not is_still)):
        return True
    if is_constant(wholes):
        return not is_measured and _are_apart(wholes[0].strip(" "), decimals)
    if min(map(len, decimals)) < _LEAST_DIGITS:
        return False
    are_digits = all(whole.strip(" ").isdecimal() for whole in wholes)
    rises = are_digits and all(int(a) < int(b) for a, b in pairwise(wholes))
    return is_still or (rises and comes_again)


def open_two(columns: Sequence[Column], point: str) -> Doubt | None:
    """The doubt of a number of which only the last digits moved, by one each; None without one.

    One more press tells: a count goes on so, and a number hardly does.
    """
    for place, column in enumerate(columns):
        texts = _halves(column, point)
        if texts is None or is_measured(columns, place) or not is_constant(texts[0]):
            continue
        if counting(texts[1]) is not None:
            return Doubt(_OPEN.format(column.texts[0].strip(" "), column.texts[-1].strip(" ")))
    return None


_OPEN = (
    "{!r} to {!r} beside the number may be one that moves or two, of which one counts the presses "
    "and the other one says how they went: press once more, on anything"
)


def _are_apart(whole: str, decimals: Sequence[str]) -> bool:
    """Whether decimals behind a whole number that stood still are a count, which may leap.

    Or a few words, where the whole number is a geometry and no temperature. Of a temperature only
    one or two decimals are sent (common practice, no source).
    """
    counted = counting(decimals)
    if counted is not None and (counted.is_proven or whole in ANGLES):
        return True
    if whole in _NO_TEMPERATURES and len(set(decimals)) < len(decimals):
        return True
    rises = all(int(a) < int(b) for a, b in pairwise(decimals))
    is_wide = min(map(len, decimals)) >= (_WIDE if whole in ANGLES else _WIDER)
    return rises and is_wide and all(text[0] == "0" for text in decimals)
