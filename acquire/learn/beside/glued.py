"""Two numbers of a line with a point or a comma between them, which look like one. Pure.

`0001,20` may be a count and a geometry, or a count and a status, and so `20,0001`. As one number
its digits would be free where those of two are held. `1,05` and `1,11` may be one number that moves
or a status that stood still and another one. Nothing tells which but a press at which the first one
moves, or a person who says that it does: until then it is held.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from acquire.learn.beside.angles import ANGLES, is_of_geometry
from acquire.learn.pieces.column import MOST_WORDS, Column, is_constant, whole_pattern
from acquire.learn.pieces.counting import counting
from acquire.learn.pieces.doubts import Doubt
from acquire.learn.pieces.gauges import is_measured
from acquire.learn.pieces.still import MOVING, NO_MOVES, Moves
from acquire.learn.pieces.units import TOUCHING
from acquire.learn.presses.press import LEAST_PRESSES

_WIDER = 4
"""Digits of a count that zeros fill up, behind any number."""
_LEAST_DIGITS = 2
"""A single decimal that stood still is held in any case."""
_DECIMALS = "decimals"
"""The kind of a column that has the decimals of a number that may move, by a person's word."""


def taken_apart(columns: Sequence[Column], point: str, moves: Moves = NO_MOVES) -> list[Column]:
    """The columns, with three in the place of each one that is two numbers and what parts them.

    Of one of which a person says that its first number moves all digits may be any. One that is a
    number as it is was not meant: its digits may be any without a word.
    """
    made: list[Column] = []
    place = 0
    while place < len(columns):
        column = columns[place]
        texts = _halves(column, point)
        place += 1
        signs = Column(point, (point,) * len(column.texts))
        if (
            texts is not None
            and _may_move(texts[0], moves)
            and _was_apart(columns, place - 1, point)
        ):
            made += [Column(MOVING, texts[0], whole_pattern(texts[0], "-?")), signs]
            made.append(Column(_DECIMALS, texts[1], _digits(texts[1])))
        elif texts is None or _is_one(columns, place - 1, texts, moves):
            made.append(column)
        else:
            word, size = _with_letters(texts[1], columns[place : place + 1])
            made += [Column("alnum", texts[0]), signs, Column("alnum", word)]
            place += size
    return made


def moving_anyway(columns: Sequence[Column], point: str) -> tuple[str, ...]:
    """What stood still before the point of numbers that may be any without a person's word."""
    return tuple(
        texts[0][0].strip(" ")
        for place, column in enumerate(columns)
        if (texts := _halves(column, point)) is not None
        and is_constant(texts[0][:LEAST_PRESSES])
        and not _was_apart(columns, place, point)
    )


def _was_apart(columns: Sequence[Column], place: int, point: str) -> bool:
    """Whether a column was two numbers at some of the presses so far, when a person was asked."""
    presses = len(columns[place].texts)
    for size in range(min(LEAST_PRESSES, presses), presses + 1):
        so_far = [Column(c.kind, c.texts[:size], c.what) for c in columns]
        texts = _halves(so_far[place], point)
        if texts is not None and not _is_one(so_far, place, texts, NO_MOVES):
            return True
    return False


def _may_move(wholes: Sequence[str], moves: Moves) -> bool:
    """Whether a person says so of a first number that stood still at the first presses."""
    return wholes[0].strip(" ") in moves and is_constant(wholes[:LEAST_PRESSES])


def _digits(decimals: Sequence[str]) -> str:
    """Any such decimals; a last one that never changed may be a word on the press glued to them."""
    sizes, lasts = sorted(set(map(len, decimals))), {text[-1] for text in decimals}
    if len(sizes) > 1:
        return rf"\d{{{sizes[0]},{sizes[-1]}}}"
    is_held = sizes[0] > 1 and len(lasts) == 1
    return rf"\d{{{sizes[0] - 1}}}{lasts.pop()}" if is_held else rf"\d{{{sizes[0]}}}"


def _is_one(
    columns: Sequence[Column], place: int, halves: tuple[tuple[str, ...], tuple[str, ...]],
    moves: Moves,
) -> bool:  # fmt: skip
    """Whether a column is one number: that of another geometry, or one that a person says moves."""
    texts = columns[place].texts
    if texts[0].strip(" ") in moves and is_constant(texts[:LEAST_PRESSES]):
        return True
    is_known = is_measured(columns, place) or is_of_geometry(columns, place)
    return not are_two(*halves, is_measured=is_known)


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
    if not is_measured and _are_few(wholes, decimals):
        return len(decimals) >= _ENOUGH
    if min(map(len, decimals)) < _LEAST_DIGITS:
        return False
    are_digits = all(whole.strip(" ").isdecimal() for whole in wholes)
    rises = are_digits and all(int(a) < int(b) for a, b in pairwise(wholes))
    return is_still or (rises and comes_again)


def open_two(columns: Sequence[Column], point: str) -> Doubt | None:
    """The doubt of a number that may be two by all presses so far; None without one.

    Only the last digits of one moved, by one each: a count goes on so, and a number hardly does.
    Another one leaps and says again what it said: with more presses a number says other things.
    """
    for place, column in enumerate(columns):
        texts = _halves(column, point)
        if texts is None or is_measured(columns, place):
            continue
        first, last = column.texts[0].strip(" "), column.texts[-1].strip(" ")
        if is_constant(texts[0]) and counting(texts[1]) is not None:
            return Doubt(_OPEN.format(first, last))
        if may_be_few(columns, place, point):
            return Doubt(_FEW.format(", ".join(repr(t.strip(" ")) for t in column.texts)))
    return None


def may_be_few(columns: Sequence[Column], place: int, point: str) -> bool:
    """Whether a number beside the value may be two of few words each, and more presses tell."""
    texts = _halves(columns[place], point)
    if texts is None or is_measured(columns, place) or is_of_geometry(columns, place):
        return False
    return len(texts[0]) < _ENOUGH and not is_constant(texts[0]) and _are_few(*texts)


def _are_few(wholes: Sequence[str], decimals: Sequence[str]) -> bool:
    """Whether a number leaps and yet says again what it said, in all or behind its point."""
    texts = [whole.strip(" +-") + few for whole, few in zip(wholes, decimals, strict=True)]
    is_even = len(set(map(len, decimals))) == 1 and not is_constant(decimals)
    if not is_even or not all(text.isdecimal() for text in texts):
        return False
    leaps = any(abs(int(a) - int(b)) > _SLOW for a, b in pairwise(texts))
    is_fine = len(decimals[0]) >= _LEAST_DIGITS
    comes_again = len(set(texts)) < len(texts) or (is_fine and len(set(decimals)) < len(decimals))
    return leaps and comes_again and max(len(set(decimals)), len(set(wholes))) <= MOST_WORDS


_SLOW = 9
"""So many of its last digit a temperature goes from press to press (common practice, no source)."""
_ENOUGH = 6
"""Presses after which what still has few values is held to them."""
_FEW = (
    "{} beside the number may be one that moves or two of few values, which say how a press went: "
    "press once more, on anything"
)
_OPEN = (
    "{!r} to {!r} beside the number may be one that moves or two, of which one counts the presses "
    "and the other one says how they went: press once more, on anything"
)


def _are_apart(whole: str, decimals: Sequence[str]) -> bool:
    """Whether decimals behind a whole number that stood still are held to be a number of their own.

    Three that count may be either, and a further press tells: `open_two` asks for it.
    """
    counted = counting(decimals)
    is_wide = min(map(len, decimals)) >= _WIDER and all(text[0] == "0" for text in decimals)
    return counted is None or counted.is_proven or whole in ANGLES or is_wide
