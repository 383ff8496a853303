"""Numbers beside that of the display that are one it had so far: the largest, the least. Pure.

Of such a number few are seen, and yet they are no words on the press.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal

from acquire.learn.pieces.column import Column, is_constant, number_pattern, whole_pattern
from acquire.learn.pieces.pieces import Style

SO_FAR = "so far"
"""The kind of a column that is such a number: any like it may stand there."""
_NUMBER = re.compile("[0-9]+(?:[.,][0-9]+)?")
_LEAST_DIGITS = 4
"""Digits of all that it was: words on the press have these by chance once in 10,000 times."""


def with_so_far(columns: Sequence[Column], values: Sequence[str], style: Style) -> list[Column]:
    """The columns, with any number where one was that of `values`, at this press or before it."""
    shown = [_number(text) for text in values]
    made = list(columns)
    if None in shown:
        return made
    for place, column in enumerate(columns):
        if column.kind not in ("alnum", "decimal") or column.what or is_constant(column.texts):
            continue
        here = [_number(text) for text in column.texts]
        # What always is the number itself is another place of it.
        if here == shown or any(one not in shown[: at + 1] for at, one in enumerate(here)):
            continue
        if sum(len(f"{one:f}".replace(".", "")) for one in set(here)) >= _LEAST_DIGITS:
            made[place] = Column(SO_FAR, column.texts, _any(column, style.point))
            gap = columns[place - 1] if place else column
            if gap.kind == "space" and len(gap.texts[0]) > 1:
                # They fill it up.
                made[place - 1] = Column(gap.kind, gap.texts, " +")
    return made


def _any(column: Column, point: str) -> str:
    is_whole = column.kind == "alnum"
    return whole_pattern(column.texts, "-?") if is_whole else number_pattern(column.texts, point)


def _number(text: str) -> Decimal | None:
    """A number without its sign; None where it is none."""
    bare = text.strip(" +-")
    return Decimal(bare.replace(",", ".")) if _NUMBER.fullmatch(bare) else None
