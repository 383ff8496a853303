"""Words of a line that may be the code of a geometry, band or unit, as a frame may have one. Pure.

A single digit or letter beside the number, which was another one at another press, may say to what
the meter was set. Held to those that were seen it would be read as the one setting that a person
said. Words of the closed tables, geometries and bands are looked at by themselves.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from acquire.learn.clock import clocks
from acquire.learn.column import Column, Style, is_constant
from acquire.learn.counting import counting
from acquire.learn.gauges import is_measured
from acquire.learn.glued import taken_apart
from acquire.learn.held import MOST_VALUES
from acquire.learn.parts import columns_of
from acquire.learn.units import unit_of
from acquire.model import Quantity

_FIRST = frozenset("01234")
_CYCLE = 3
"""So many settings one after the other may look like a count."""


def codes_of(columns: Sequence[Column], kind: Quantity) -> tuple[tuple[str, ...], ...]:
    """The texts of each place that may be a code, press by press."""
    return tuple(_codes(columns, kind))


def codes_beside(
    bursts: Sequence[Sequence[str]], own: str, kind: Quantity
) -> tuple[tuple[str, ...], ...]:
    """Those of the other lines of each press; `own` is the pattern of a line with the value."""
    found: list[tuple[str, ...]] = []
    for texts in zip(*bursts, strict=False):
        if all(re.fullmatch(own, text) for text in texts):
            continue
        columns = columns_of(texts, Style(".", is_padded=True))
        found += codes_of(taken_apart(columns, "."), kind) if columns is not None else ()
    return tuple(found)


def _codes(columns: Sequence[Column], kind: Quantity) -> Iterator[tuple[str, ...]]:
    times = clocks([c.texts if c.kind != "value" else ("",) for c in columns])
    for place, column in enumerate(columns):
        texts = tuple(text.strip(" +-") for text in column.texts)
        is_word = column.kind == "alnum" and not column.what and place not in times
        if not is_word or is_constant(texts) or any(unit_of(text, kind) for text in texts):
            continue
        if _is_code(texts) and not (is_measured(columns, place) or _are_decimals(columns, place)):
            yield texts


def _are_decimals(columns: Sequence[Column], place: int) -> bool:
    """Whether these are the last digits of a number that moves slowly, such as a temperature."""
    if place < 2 or columns[place - 1].kind != ".":
        return False
    whole = columns[place - 2].texts
    return is_constant(whole) and whole[0][-2:].isdecimal()


def _is_code(texts: Sequence[str]) -> bool:
    """Whether few single signs stood there, with nothing but zeros and letters about them."""
    if len(set(texts)) > MOST_VALUES or len(set(map(len, texts))) > 1:
        return False
    moving = [signs for signs in zip(*texts, strict=True) if not is_constant(signs)]
    still = [signs[0] for signs in zip(*texts, strict=True) if is_constant(signs)]
    if len(moving) != 1 or any(sign in "123456789" for sign in still):
        return False
    if (counted := counting(texts)) is not None:
        return len(texts) == _CYCLE and not counted.is_proven and set(moving[0]) <= _FIRST
    return True
