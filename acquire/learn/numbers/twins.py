"""A number that stands in a frame twice: one place is read, the other one held to it. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from acquire.learn.numbers.number import NumberAt


class Twin(NamedTuple):
    """The bytes from `offset` on repeat those from `of` on, `size` of them."""

    offset: int
    of: int
    size: int

    @property
    def places(self) -> range:
        return range(self.offset, self.offset + self.size)

    def written(self, frame: bytes) -> bytes:
        """The frame with the copy made anew."""
        copy = frame[self.of : self.of + self.size]
        return frame[: self.offset] + copy + frame[self.offset + self.size :]


def without_twins(found: list[NumberAt], frames: Sequence[bytes]) -> tuple[list[NumberAt], int]:
    """The explanations without those of the second place, and how far that is behind the first.

    0 where no number stands twice.
    """
    known = set(found)
    for shift in range(1, len(frames[0])):
        pairs = [
            (one, other)
            for one in found
            if shift >= one.size
            if (other := replace(one, offset=one.offset + shift)) in known
            if _is_same(one, shift, frames)
        ]
        if pairs:
            first = min(one.offset for one, _ in pairs)
            copied = range(first + shift, max(other.end for _, other in pairs))
            kept: dict[object, NumberAt] = {}
            for one in sorted(found, key=lambda one: one.offset):
                kept.setdefault(_made_of(one, copied, shift), one)
            firsts = set(kept.values())
            return [one for one in found if one in firsts], shift
    return found, 0


def _made_of(number: NumberAt, copied: range, shift: int) -> object:
    """What a number is made of, from its lowest byte on, where the copies are what they repeat.

    Some bytes of both places together, in the other order, are the same number then.
    """
    order = range(number.offset, number.end)
    lowest_first = order if number.order == "little" else reversed(order)
    places = tuple(place - shift if place in copied else place for place in lowest_first)
    return number.type, number.sign, number.power, number.decimals, number.minus, places


def twin_of(number: NumberAt, shift: int, frames: Sequence[bytes]) -> Twin | None:
    """The copy of a number so far behind it, where there is one."""
    is_there = shift >= number.size and _is_same(number, shift, frames)
    return Twin(number.offset + shift, number.offset, number.size) if is_there else None


def _is_same(number: NumberAt, shift: int, frames: Sequence[bytes]) -> bool:
    first, last = number.offset, number.end
    return all(
        frame[first:last] == frame[first + shift : last + shift] and last + shift <= len(frame)
        for frame in frames
    )
