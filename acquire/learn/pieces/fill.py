"""Spaces before a number that moves: they may fill it up, and a longer one then has fewer. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence

from acquire.learn.pieces.column import Column, is_constant
from acquire.learn.pieces.stampform import MAY_BE_FILLED
from acquire.learn.pieces.stamps import STAMP
from acquire.learn.pieces.still import MOVING

_NUMBER = re.compile("[+-]?(?:0|[1-9][0-9]*)(?:[.,][0-9]+)?")
"""One that no zeros fill up."""


def fills_up(columns: Sequence[Column], place: int) -> bool:
    """Whether spaces that were as many at every press may fill up the number behind them.

    Where zeros fill it up they only part it from what stands before.
    """
    column = columns[place]
    if column.kind != "space" or not is_constant(column.texts) or place + 1 == len(columns):
        return False
    number = columns[place + 1]
    if number.kind == STAMP:
        return number.what.startswith(MAY_BE_FILLED)
    is_moving = number.kind == MOVING or (
        number.kind in ("alnum", "decimal") and not is_constant(number.texts)
    )
    return is_moving and all(_NUMBER.fullmatch(text) for text in number.texts)
