"""The count of presses in a line: a number, or a part of a word, that goes up by one a press. Pure.

Used as the count it can end a check and makes no value. Left as any number it would hide a digit
that says how the press went; held to what was seen it would stop at the next press.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from acquire.learn.pieces.column import is_constant, is_count, literal, whole_pattern

PROVEN = 4
"""Presses that prove a count of theirs: three numbers in a row may as well be a temperature."""
_WIDE = 3
"""Digits with a 0 in front that are no temperature."""


class Counting(NamedTuple):
    """`before` and `behind` is what never changes about the `digits` that count, press by press."""

    before: str
    digits: tuple[str, ...]
    behind: str

    @property
    def is_proven(self) -> bool:
        """Whether it is nothing that may go up by one three times by chance."""
        is_padded = self.digits[0][0] == "0" and len(self.digits[0]) >= _WIDE
        return len(self.digits) >= PROVEN or is_padded

    def pattern(self, name: str = "count") -> str:
        """The pattern with the count in a group."""
        middle = f"(?P<{name}>{whole_pattern(self.digits)})"
        return literal(self.before) + middle + literal(self.behind)


def counting(column: Sequence[str]) -> Counting | None:
    """What counts at one place of all lines; None if nothing does."""
    if is_count(column):
        return Counting("", tuple(column), "")
    if is_constant(column) or not all(text.isascii() and text.isalnum() for text in column):
        return None
    runs = [re.findall("[0-9]+|[A-Za-z]+", text) for text in column]
    if len({tuple(run.isdecimal() for run in row) for row in runs}) > 1:
        return None
    places = list(zip(*runs, strict=True))
    moving = [place for place, texts in enumerate(places) if not is_constant(texts)]
    if len(moving) != 1 or not places[moving[0]][0].isdecimal():
        return None
    (at,) = moving
    before, behind = "".join(runs[0][:at]), "".join(runs[0][at + 1 :])
    digits, tail = _counted(places[at])
    return Counting(before, digits, tail + behind) if digits else None


def _counted(column: tuple[str, ...]) -> tuple[tuple[str, ...], str]:
    """The digits that count and those behind them that stay; none where nothing counts."""
    for size in range(len(column[0])):
        tails = {text[len(text) - size :] for text in column}
        heads = tuple(text[: len(text) - size] for text in column)
        if len(tails) == 1 and all(heads) and is_count(heads):
            return heads, tails.pop()
    return (), ""
