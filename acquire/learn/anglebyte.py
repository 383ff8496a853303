"""A byte of binary frames that says the geometry of each: 20, 60 or 85 and nothing else. Pure.

That some byte is one of these at every press, and not always the same one, hardly comes of chance.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from acquire.model import Quantity

_ANGLES = {20: "20", 60: "60", 85: "85"}
"""Degrees (ISO 2813), as a whole number."""
_PACKED = {0x20: "20", 0x60: "60", 0x85: "85"}
"""The same in packed decimals, of which the first two differ in one bit, as a status may."""


class AngleByte(NamedTuple):
    """The byte that says the geometry of its frame, and the geometry by each of its values."""

    place: int
    angles: dict[int, str]


def angle_byte(data: Sequence[bytes], taken: frozenset[int], kind: Quantity) -> AngleByte | None:
    """The one byte that was 20, 60 or 85 at every press, and not always the same; else None."""
    if kind is not Quantity.GLOSS:
        return None
    found: dict[tuple[int, ...], AngleByte] = {}
    for place in range(1, len(data[0])):
        seen = tuple(frame[place] for frame in data)
        distinct = set(seen)
        if place in taken or len(distinct) < 2:
            continue
        for angles in (_ANGLES, _PACKED):
            is_told = angles is _ANGLES or 0x85 in distinct
            if is_told and distinct <= set(angles):
                one = AngleByte(place, {value: angles[value] for value in sorted(distinct)})
                found.setdefault(seen, one)
    return next(iter(found.values())) if len(found) == 1 else None
