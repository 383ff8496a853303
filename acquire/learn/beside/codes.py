"""Words of a line that may be the code of a geometry, band or unit, as a frame may have one. Pure.

A short text beside the number that came again, or a single digit or letter that was another one at
another press, may say to what the meter was set. Held to those that were seen it would be read as
the one setting that a person said. Words of the closed tables, geometries and bands are looked at
by themselves.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import takewhile

from acquire.learn.beside.again import came_again, is_slow
from acquire.learn.beside.angles import ANGLES
from acquire.learn.beside.glued import taken_apart
from acquire.learn.numbers.held import MOST_VALUES
from acquire.learn.pieces.clock import clocks
from acquire.learn.pieces.column import Column, columns_of, is_constant
from acquire.learn.pieces.counting import counting
from acquire.learn.pieces.gauges import is_measured, is_touched
from acquire.learn.pieces.pieces import Style
from acquire.learn.pieces.still import Moves, moving
from acquire.learn.pieces.unitlike import Sort, sort_of
from acquire.learn.pieces.units import unit_of
from acquire.model import Quantity

_FIRST = frozenset("01234")
_RANGES = frozenset(("HI", "HIGH", "LO", "LOW", "MED", "MEDIUM", "MID"))
_TENTHS = frozenset(f"{angle}0" for angle in ANGLES)
"""Geometries in tenths of a degree."""
_NANOMETRES = range(200, 2501)
"""Where transmission is measured (common practice, no source)."""
_CYCLE = 3
"""So many settings one after the other may look like a count."""


def codes_of(columns: Sequence[Column], kind: Quantity) -> tuple[tuple[str, ...], ...]:
    """The texts of each place that may be a code, press by press."""
    return tuple(_codes(columns, kind))


def codes_beside(
    bursts: Sequence[Sequence[str]], own: int, kind: Quantity, moves: Moves
) -> tuple[tuple[str, ...], ...]:
    """Those of the other lines of each press; `own` is the place of the line with the value.

    One that is built as that line may have a code where that has the value. `moves` are numbers of
    which a person said that they are no code.
    """
    style = Style(".", is_padded=True)
    found: list[tuple[str, ...]] = []
    lines = list(zip(*bursts, strict=False))
    for texts in lines:
        # It may be sent again.
        if texts == lines[own]:
            continue
        columns = columns_of(texts, style)
        if columns is not None:
            found += codes_of(moving(taken_apart(columns, "."), moves, style), kind)
    return tuple(found)


def _codes(columns: Sequence[Column], kind: Quantity) -> Iterator[tuple[str, ...]]:
    times = clocks([c.texts if c.kind != "value" else ("",) for c in columns])
    for place, column in enumerate(columns):
        texts = _bare(column.texts)
        is_word = not column.what and place not in times
        is_word &= column.kind == "alnum" or (column.kind == "decimal" and _is_whole(texts))
        if not is_word or is_constant(texts) or _says_itself(texts, kind):
            continue
        # No unit behind it makes a number of letters alone: a % may be that of the value.
        is_number = any(re.search("[0-9]", text) for text in texts) and (
            (is_measured(columns, place) and not _has_own_share(columns, place, kind))
            or is_touched(columns, place, kind)
        )
        is_code = _is_code(texts) or _is_second_count(columns, place)
        is_code |= kind is Quantity.GLOSS and set(texts) <= _TENTHS
        is_code |= kind is Quantity.TRANSMITTANCE and _are_lengths(texts)
        if is_code and not (is_number or _are_decimals(columns, place)):
            yield texts


def _has_own_share(columns: Sequence[Column], place: int, kind: Quantity) -> bool:
    """Whether the % behind a place may be that of the value of a transmission meter before it."""
    at = next((at for at, column in enumerate(columns) if column.kind == "value"), place)
    between = columns[place + 1 : place + 3]
    is_first = not any(column.kind == "%" for column in columns[at:place])
    is_behind = any(column.kind == "%" for column in between)
    return kind is Quantity.TRANSMITTANCE and at < place and is_first and is_behind


def _are_lengths(texts: Sequence[str]) -> bool:
    """Whether these may be wavelengths in nanometres, another one at each press."""
    are_whole = all(re.fullmatch("[1-9][0-9]{2,3}", text) for text in texts)
    return are_whole and counting(texts) is None and all(int(text) in _NANOMETRES for text in texts)


def _is_second_count(columns: Sequence[Column], place: int) -> bool:
    """Whether what goes up by one does so beside something else that does, with other digits.

    Of so few presses it is as likely the code of one setting after the other.
    """
    counts = [counting(column.texts) if column.kind == "alnum" else None for column in columns]
    own = counts[place]
    if own is None or own.is_proven or len(own.digits) > MOST_VALUES:
        return False
    return any(one is not None and one.digits != own.digits for one in counts)


def _bare(column: Sequence[str]) -> tuple[str, ...]:
    """The texts without a sign before them, which may part fields, unless it alone changed."""
    bare = tuple(text.strip(" +-") for text in column)
    return tuple(text.strip(" ") for text in column) if is_constant(bare) else bare


def _is_whole(texts: Sequence[str]) -> bool:
    """Whether the decimals of numbers never moved: two fields that a comma parts, perhaps."""
    return is_constant([re.split("[.,]", text)[-1] for text in texts])


def _says_itself(texts: Sequence[str], kind: Quantity) -> bool:
    """Whether these are units, which are looked at by themselves, or words on how a press went.

    Of presses beyond limits some are within: where all say high or low these may be ranges.
    """
    are_plain = all(len(text) > 1 and sort_of(text, kind) is Sort.PLAIN for text in texts)
    are_plain &= not {text.upper() for text in texts} <= _RANGES
    return are_plain or all(unit_of(text, kind) for text in texts)


def _are_decimals(columns: Sequence[Column], place: int) -> bool:
    """Whether these are the last digits of a number that moves slowly, such as a temperature."""
    if place < 2 or columns[place - 1].kind != ".":
        return False
    whole = columns[place - 2].texts
    return is_constant(whole) and whole[0][-2:].isdecimal()


def _behind_count(texts: Sequence[str]) -> Sequence[str]:
    """What stands right behind digits that count; none where nothing does."""
    sizes = range(1, min(map(len, texts)))
    heads = [at for at in sizes if counting([text[:at] for text in texts]) is not None]
    return [text[heads[-1] :] for text in texts] if heads else ()


def _is_code(texts: Sequence[str]) -> bool:
    """Whether some came again, or they differ in a single sign, and no number moves slowly."""
    counted = counting(texts)
    if counted is not None:
        return len(texts) == _CYCLE and not counted.is_proven and _is_first(texts)
    if all(map(str.isdecimal, texts)) and is_slow(list(map(int, texts))):
        return False
    if came_again(texts) or came_again(_behind_count(texts)):
        return True
    if set("".join(texts)) == {"0", "1"} and len(set(map(len, texts))) == 1:
        # One bit for each setting.
        return len(set(texts)) <= MOST_VALUES
    return len(set(texts)) <= MOST_VALUES and len(_moving(texts)) == 1


def _is_first(texts: Sequence[str]) -> bool:
    """Whether a count of these is one of the lowest digits, only zeros and letters before it.

    Of two digits it may begin with ten.
    """
    moving = _moving(texts)
    before = "".join(signs[0] for signs in takewhile(is_constant, zip(*texts, strict=False)))
    is_long = bool(set(before) & set("123456789")) and before != "1"
    return len(moving) == 1 and set(moving[0]) <= _FIRST and not is_long


def _moving(texts: Sequence[str]) -> list[tuple[str, ...]]:
    """The signs of each place that changed, of words of one width; none of others."""
    if len(set(map(len, texts))) > 1:
        return []
    return [signs for signs in zip(*texts, strict=True) if not is_constant(signs)]
