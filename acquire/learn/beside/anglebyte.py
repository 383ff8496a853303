"""Bytes of binary frames that say the geometry of each: 20, 60 or 85 and nothing else. Pure.

That some byte is one of these at every press, and not always the same one, hardly comes of chance.
Others that went with it are held to it: where they part, nobody knows which of them is right.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from acquire.learn.pieces.doubts import Doubt
from acquire.model import Quantity

Codes = Mapping[int, str]
"""The geometry in degrees by the byte that says it."""

_ANGLES = {20: "20", 60: "60", 85: "85"}
"""Degrees (ISO 2813), as a whole number."""
_PACKED = {0x20: "20", 0x60: "60", 0x85: "85"}
"""The same in packed decimals, of which the first two differ in one bit, as a status may."""
_ANEW = "set the meter to one geometry, press three times or more, and learn from these presses"


class AngleByte(NamedTuple):
    """The byte that says the geometry of its frame, and the geometry by each of its values.

    `again` are those that say it once more, in the same codes or others, by their places.
    """

    place: int
    angles: Codes
    again: Mapping[int, Codes] = {}

    @property
    def places(self) -> frozenset[int]:
        return frozenset((self.place, *self.again))

    @property
    def tokens(self) -> Codes:
        """The geometry by every code of any of the places."""
        codes = dict(self.angles)
        for more in self.again.values():
            codes |= more
        return codes

    @property
    def narrower(self) -> dict[int, tuple[int, ...]]:
        """The values of the places that have fewer codes than all of them together."""
        rows = {self.place: self.angles, **self.again}
        return {at: tuple(sorted(codes)) for at, codes in rows.items() if codes != self.tokens}

    def with_values(
        self, data: Sequence[bytes], values: Mapping[int, tuple[int, ...]]
    ) -> AngleByte:
        """The same, with each of these places that had a value of its own at each geometry."""
        told = self
        for place in values:
            pairs = {(frame[place], self.angles[frame[self.place]]) for frame in data}
            codes = dict(sorted(pairs))
            # One code has one meaning in a profile.
            is_open = all(told.tokens.get(code, angle) == angle for code, angle in pairs)
            if is_open and len(pairs) == len(codes) == len({*codes.values()}):
                told = told._replace(again={**told.again, place: codes})
        return told


def angle_byte(
    data: Sequence[bytes], taken: frozenset[int], kind: Quantity
) -> AngleByte | Doubt | None:
    """The byte that was 20, 60 or 85 at every press, and not always the same; None without one.

    Of several that say other geometries at one press nobody knows which is right: that doubt.
    """
    if kind is not Quantity.GLOSS:
        return None
    sure: dict[int, Codes] = {}
    likely: dict[int, Codes] = {}
    for place in range(1, len(data[0])):
        distinct = {frame[place] for frame in data}
        if place in taken or len(distinct) < 2:
            continue
        for angles in (_ANGLES, _PACKED):
            if distinct <= set(angles):
                is_sure = angles is _ANGLES or 0x85 in distinct
                codes: Codes = {value: angles[value] for value in sorted(distinct)}
                (sure if is_sure else likely)[place] = codes
    if not sure:
        return None
    first = min(sure)
    told = _said(data, first, sure[first])
    for place, codes in sure.items():
        if (other := _said(data, place, codes)) != told:
            return _contradiction(first, told, place, other)
    again: dict[int, Codes] = {place: codes for place, codes in sure.items() if place != first}
    again |= {at: codes for at, codes in likely.items() if _said(data, at, codes) == told}
    return AngleByte(first, sure[first], again)


def _said(data: Sequence[bytes], place: int, codes: Codes) -> list[str]:
    """The geometry of each press by this place."""
    return [codes[frame[place]] for frame in data]


def _contradiction(first: int, told: Sequence[str], other: int, more: Sequence[str]) -> Doubt:
    """The doubt of two bytes that say different geometries of one press."""
    press, one, two = next(
        (press, a, b) for press, (a, b) in enumerate(zip(told, more, strict=True), 1) if a != b
    )
    return Doubt(
        f"bytes {first} and {other} each say a geometry, and contradict one another: at press "
        f"{press} byte {first} says {one} and byte {other} says {two}",
        next_step=_ANEW, wanted="presses of one geometry", is_anew=True,
    )  # fmt: skip
