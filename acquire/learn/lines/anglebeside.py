"""A line of each press that says the geometry of the number in another line. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from acquire.learn.beside.angles import changing_alone, evident_alone
from acquire.learn.beside.glued import taken_apart
from acquire.learn.lines.line import Line
from acquire.learn.pieces.column import columns_of
from acquire.learn.pieces.pieces import Style
from acquire.model import Quantity


class AngleBeside(NamedTuple):
    """Which line of a press it is, from 0, its `angles`, and what it said at each press."""

    line: int
    angles: tuple[str, ...]
    texts: tuple[str, ...]


def angle_beside(bodies: Sequence[Sequence[str]], own: Line, kind: Quantity) -> AngleBeside | None:
    """The only such line, where presses had several geometries; that it says it a person knows."""
    if kind is not Quantity.GLOSS or own.channels:
        return None
    found = []
    for place, texts in enumerate(zip(*bodies, strict=False)):
        if all(re.fullmatch(own.pattern, text) for text in texts):
            continue
        columns = columns_of(texts, Style(".", is_padded=True))
        columns = None if columns is None else taken_apart(columns, ".")
        says = None if columns is None else changing_alone(columns)
        if says is not None and columns is not None:
            found.append(AngleBeside(place, says.angles, says.texts(columns)))
    return found[0] if len(found) == 1 else None


def named_beside(bodies: Sequence[Sequence[str]], own: Line, kind: Quantity) -> str:
    """The geometry that another line than that of the number names, by a word or a degree sign.

    Empty where none does, and where lines name several: that of the number is not told then.
    """
    found: dict[str, None] = {}
    for texts in zip(*bodies, strict=False) if kind is Quantity.GLOSS else ():
        if all(re.fullmatch(own.pattern, text) for text in texts):
            continue
        columns = columns_of(texts, Style(".", is_padded=True))
        if columns is not None and (named := evident_alone(taken_apart(columns, "."))):
            found[named] = None
    return next(iter(found)) if len(found) == 1 else ""


def without(bodies: Sequence[Sequence[str]], says: AngleBeside | None) -> Sequence[Sequence[str]]:
    """The lines of each press without that one."""
    if says is None:
        return bodies
    return [[line for at, line in enumerate(burst) if at != says.line] for burst in bodies]
