"""Lines of a press of which each says its geometry at one place, and is otherwise like the others.

Pure.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from acquire.learn.beside.angles import ANGLES, Changing
from acquire.learn.beside.parts import Parts
from acquire.learn.pieces.column import Column, is_constant
from acquire.model import Quantity


def angled(
    before: list[Column], values: list[str], behind: list[Column], point: str, most: int
) -> Iterator[tuple[int, Parts]]:
    """Patterns in which one place, constant so far, says the geometry of its line."""
    if most < 2:
        return
    columns = [*before, Column("value", tuple(values)), *behind]
    for place, column in enumerate(columns):
        if {text.strip(" ") for text in column.texts} <= set(ANGLES) and is_constant(column.texts):
            parts = Parts(before, values, behind, point, Quantity.GLOSS, Changing(place, ANGLES))
            yield place, parts


def angles_in(parts: Parts, bursts: Sequence[Sequence[str]]) -> tuple[str, ...]:
    """The geometries of which every press has a line each, where there are several; else none.

    Two lines without a unit or a degree sign may say something else than two geometries.
    """
    seen = set()
    for burst in bursts:
        found = [re.fullmatch(parts.pattern or "", line) for line in burst]
        seen.add(tuple(one["geometry"] for one in found if one is not None))
    (here, *others) = seen
    is_each = not others and len(here) > 1 and len(set(here)) == len(here)
    is_told = bool(parts.unit_tokens or parts.evident_angle) or len(here) == len(ANGLES)
    return tuple(sorted(here)) if is_each and is_told else ()
