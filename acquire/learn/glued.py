"""Two numbers of a line with a point or a comma between them, which look like one. Pure.

`0001,20` may be a count and a geometry, or a count and a status. As one number its digits would be
free where those of two are held.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from acquire.learn.angles import ANGLES
from acquire.learn.column import Column, is_constant
from acquire.learn.counting import counting

_LEAST_DIGITS = 2
"""A single decimal that stood still is held in any case."""


def taken_apart(columns: Sequence[Column], point: str) -> list[Column]:
    """The columns, with three in the place of each one that is two numbers and what parts them."""
    return [one for column in columns for one in _taken_apart(column, point)]


def _taken_apart(column: Column, point: str) -> list[Column]:
    if column.kind != "decimal" or is_constant(column.texts):
        return [column]
    rows = [text.partition(point) for text in column.texts]
    wholes, points, decimals = (tuple(texts) for texts in zip(*rows, strict=True))
    if not (all(points) and are_two(wholes, decimals)):
        return [column]
    return [Column("alnum", wholes), Column(point, points), Column("alnum", decimals)]


def are_two(wholes: Sequence[str], decimals: Sequence[str]) -> bool:
    """Whether the first one counts, or the second one is a geometry or says again what it said.

    The decimals of a number that moves are others at every press, but by a rare chance.
    """
    if set(decimals) <= set(ANGLES):
        return True
    is_still = is_constant(decimals)
    comes_again = len(set(decimals)) < len(decimals)
    counted = counting([whole.strip(" ") for whole in wholes])
    if counted is not None and (counted.is_proven or (comes_again and not is_still)):
        return True
    if min(map(len, decimals)) < _LEAST_DIGITS:
        return False
    are_digits = all(whole.strip(" ").isdecimal() for whole in wholes)
    rises = are_digits and all(int(a) < int(b) for a, b in pairwise(wholes))
    return is_still or (rises and comes_again)
