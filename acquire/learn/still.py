"""What was the same at every press and may be another thing at the next: it is told by its place.

A temperature, a battery or a clock that stood still in a lesson looks like an instrument's own
number. It is held, since it may say how a press went, and nobody should wonder at the noise. Pure.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from acquire.learn.column import Column, is_constant, number_pattern, whole_pattern

TWO_DIGITS = r"\d{2}"
"""The pattern of a number, or of a byte in hexadecimal digits of which no press had a letter."""
Moves = frozenset[str]
"""Numbers that stood still and of which a person says that they may be others."""
NO_MOVES: Moves = frozenset()
MOVING = "moving"
"""The kind of a column that is such a number."""
_NUMBER = re.compile("[+-]?[0-9]+([.,][0-9]+)?")
_NUMBERS = ("alnum", "decimal")
_MANY_WORDS = 6


def movable(columns: Sequence[Column]) -> tuple[str, ...]:
    """The numbers of which a person may say that they move.

    Of two that were the same number nobody could say which is meant. A single digit is more likely
    a word on the press, and so may be one at the end, which may touch a checksum.
    """
    still = [c.texts[0].strip(" ") for c in columns if is_constant(c.texts)]
    found = [
        column.texts[0].strip(" ")
        for column in columns[:-1]
        if is_constant(column.texts) and column.kind in _NUMBERS
    ]
    return tuple(t for t in found if len(t) > 1 and _NUMBER.fullmatch(t) and still.count(t) == 1)


def moving(columns: Sequence[Column], moves: Moves, point: str) -> list[Column]:
    """The columns, with the pattern of any number like it where one stood still and may move."""
    named = moves & set(movable(columns))
    return [
        Column(MOVING, column.texts, _any(column, point))
        if is_constant(column.texts) and column.texts[0].strip(" ") in named
        else column
        for column in columns
    ]


def _any(column: Column, point: str) -> str:
    is_whole = column.kind == "alnum"
    return whole_pattern(column.texts, "-?") if is_whole else number_pattern(column.texts, point)


def still_in_column(column: Column, what: str) -> tuple[str, ...]:
    """What of the numbers at a place of all lines its pattern holds, because it never changed."""
    texts = [text.strip(" ") for text in column.texts]
    if is_constant(column.texts):
        return (repr(texts[0]),) if _NUMBER.fullmatch(texts[0]) else ()
    if column.what or what.startswith("(?"):
        return ()
    if what == TWO_DIGITS:
        return (f"digits alone, as in {texts[0]!r}",)
    # Without what may be any: "0[0-9A-F]{3}" holds its 0.
    held = re.sub(r"\\.|\[[^]]*\]|\{[^}]*\}|[*+?]", "", what)
    digits = "".join(sign for sign in held if sign.isdecimal())
    return (f"the {digits} of {texts[0]!r}",) if digits else ()


def still_in_frame(masks: Sequence[int], known: frozenset[int]) -> tuple[str, ...]:
    """The bytes that never changed, but for the ones at both ends, which mark a frame, and those
    that are `known`."""
    last = len(masks) - 1
    places = [
        at for at, mask in enumerate(masks) if mask == 0xFF and 0 < at < last and at not in known
    ]
    runs: list[list[int]] = []
    for at in places:
        if runs and runs[-1][-1] == at - 1:
            runs[-1].append(at)
        else:
            runs.append([at])
    return tuple(str(run[0]) if len(run) == 1 else f"{run[0]} to {run[-1]}" for run in runs)


def still_words(what: str, found: Sequence[str]) -> list[str]:
    """The sentence on what stood still; `what` it stands in: a line or a frame."""
    if not found:
        return []
    more = ", ..." if len(found) > _MANY_WORDS else ""
    told = ", ".join(found[:_MANY_WORDS]) + more
    return [
        f"a {what} in which this is otherwise, which was the same at every press: {told}. If it is "
        "a temperature, a battery, a time, a running number or hexadecimal, presses are noise once "
        "it is another one: press again some minutes later, and learn from all presses"
    ]
