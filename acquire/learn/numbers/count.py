"""The count of presses in frames, found and used: so that a leap of it ends the check. Pure.

A flag may hide in a byte that counts. As a part of the count it is a leap, which the driver tells;
a count that went on unused would hide it, and one that is held would stop where its bits end.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Literal, NamedTuple

Order = Literal["big", "little"]

_LEAST_PRESSES = 3
_FEW = 8
"""Presses between two of a lesson that are far fewer than a byte counts."""
_TOP = 0x80
_BYTE = 0xFF
_LEAST_LEAP_BIT = 3
"""A count that is farther on by less than this bit may have missed a few presses only."""
_MOST_DIGITS = 9
_PADDED = 3
"""Digits with a 0 in front that are no temperature."""


class Stepped(NamedTuple):
    """The bits of a byte that counts, as far as they were seen: a further one may be a flag.

    `is_whole`: all of the byte steps, and not a part of it beside other bits.
    """

    free: int
    is_proven: bool
    is_whole: bool


class Count(NamedTuple):
    """The byte `place` counts presses, and where `size` is 2 the one beside it goes on with it.

    Where they `are_digits` it is the last of `size` of them in ASCII, the first ones may be spaces;
    where it `is_packed` each byte has two decimal digits.
    `proven` is the highest count whose bits presses have shown, or a person has said; a further
    one, set for the first time, is as likely a flag. None where all are the count's.
    Above `carried_above` it goes on in a byte that was 0 at every press, and may be none of it.
    `may_be_packed`: it is read as a binary one, and no press has shown that it is not of packed
    decimals.
    """

    place: int
    size: int
    order: Order
    proven: int | None
    is_proven: bool
    are_digits: bool = False
    is_packed: bool = False
    may_be_packed: bool = False
    carried_above: int | None = None

    @property
    def offset(self) -> int:
        return self.place - self.size + 1 if self.order == "big" else self.place

    @property
    def places(self) -> range:
        return range(self.offset, self.offset + self.size)

    @property
    def most(self) -> int:
        """The largest one that there is room for."""
        base = 10 if self.are_digits else 100 if self.is_packed else 256
        return int(base**self.size) - 1

    def known_to(self, highest: int | None) -> Count:
        """The same where a person said how far it counts; None is what nobody said."""
        if highest is None or self.proven is None:
            return self
        proven = None if _ones(highest) >= self.most else max(self.proven, _ones(highest))
        carried = None if highest > _BYTE else self.carried_above
        return self._replace(proven=proven, carried_above=carried)

    def read(self, frame: bytes) -> int:
        """What it is in a frame of the lesson."""
        own = frame[self.offset : self.offset + self.size]
        if self.are_digits:
            return int(own)
        big = own if self.order == "big" else own[::-1]
        return (_unpacked(big) or 0) if self.is_packed else int.from_bytes(big)

    @property
    def lowest(self) -> int:
        """The place of the byte that every press changes."""
        return self.places[-1] if self.order == "big" else self.offset

    @property
    def type(self) -> str:
        """In the words of frame profiles."""
        if self.is_packed:
            return "bcd"
        return "digits" if self.are_digits else f"uint{8 * self.size}"

    def leaps(self, frame: bytes) -> Iterator[tuple[int, bytes]]:
        """Counts that are farther on than presses may have been missed, each as it is sent."""
        own = frame[self.offset : self.offset + self.size]
        if self.are_digits:
            for step in (10**place for place in range(1, self.size)):
                there = (int(own) + step) % (self.most + 1)
                yield there, b"%0*d" % (self.size, there)
            return
        if self.is_packed:
            count = _unpacked(own if self.order == "big" else own[::-1])
            for step in (10**place for place in range(1, 2 * self.size)):
                there = ((count or 0) + step) % (self.most + 1)
                sent = bytes.fromhex(f"{there:0{2 * self.size}d}")
                yield there, sent if self.order == "big" else sent[::-1]
            return
        for bit in range(_LEAST_LEAP_BIT, 8 * self.size):
            there = int.from_bytes(own, self.order) ^ 1 << bit
            yield there, there.to_bytes(self.size, self.order)


def stepped(seen: Sequence[int]) -> Stepped | None:
    """What counts in a byte that goes up by one with every press; None if nothing does.

    Presses may have been left out in between, or taught later, as long as it went on.
    """
    if len(seen) < _LEAST_PRESSES:
        return None
    steps = [(b - a) & 0xFF for a, b in pairwise(seen)]
    if steps.count(1) >= _LEAST_PRESSES - 1 and all(0 < step < 0x80 for step in steps):
        is_proven = max(seen) >= 8 or (len(seen) > _LEAST_PRESSES and max(seen) >= 4)
        return Stepped(_ones(max(seen)), is_proven, True)
    for width in range(7, 1, -1):
        low = (1 << width) - 1
        is_counting = all((b - a) & low == 1 for a, b in pairwise(seen))
        if is_counting and len({one & ~low for one in seen}) == 1:
            return Stepped(low, True, False)
    return None


def digit_count(data: Sequence[bytes], taken: frozenset[int], *, are_legible: bool) -> Count | None:
    """The count in ASCII digits; None if there is none.

    `are_legible`: the frames are texts, so that a single byte that counts is a digit as well.
    """
    digits = [all(0x30 <= frame[p] <= 0x39 for frame in data) for p in range(len(data[0]))]
    for last in range(len(data[0]) - 1, -1, -1):
        is_end = last + 1 == len(data[0]) or not digits[last + 1]
        if last in taken or not (digits[last] and is_end) or len(data) < _LEAST_PRESSES:
            continue
        first = last
        while first and first - 1 not in taken and last - first + 1 < _MOST_DIGITS:
            if not all(re.fullmatch(b" *[0-9]+", f[first - 1 : last + 1]) for f in data):
                break
            first -= 1
        if not (are_legible or (digits[max(first, last - 1)] and first < last)):
            continue
        counts = [int(frame[first : last + 1]) for frame in data]
        steps = [b - a for a, b in pairwise(counts)]
        if steps.count(1) < _LEAST_PRESSES - 1 or not all(0 < step <= _FEW for step in steps):
            continue
        size = last - first + 1
        is_padded = size >= _PADDED and all(frame[first] == ord("0") for frame in data)
        is_proven = len(data) > _LEAST_PRESSES or is_padded
        return Count(last, size, "big", None, is_proven, are_digits=True)
    return None


def count_of(
    data: Sequence[bytes], found: dict[int, Stepped], taken: frozenset[int], order: Order,
    *, has_sign_byte: bool = False,
) -> Count | None:  # fmt: skip
    """The count that is used: of several the one that is proven and goes on longest.

    `taken` are bytes that belong to something else; of both sides that of `order` goes on.
    `has_sign_byte`: a byte that was always 0 may be the sign of numbers that were not shown.
    """
    counts = [
        _carried(data, place, taken | {place})
        for place in range(len(data[0]))
        if place not in taken
    ]
    counts += [
        _packed(data, place, taken, order, has_sign_byte)
        for place in range(len(data[0]))
        if place not in taken
    ]
    counts += [
        _count(data, p, one, taken, order, has_sign_byte)
        for p, one in found.items()
        if one.is_whole
    ]
    return max(
        (one for one in counts if one is not None),
        key=lambda one: (one.is_packed, one.is_proven, one.size, -one.place),
        default=None,
    )


def _packed(
    data: Sequence[bytes], place: int, taken: frozenset[int], order: Order, has_sign_byte: bool
) -> Count | None:
    """A count in packed decimals that was seen to go on from 9 to 10; None if there is none.

    As a binary one it would have left out just the six presses in between.
    """
    if len(data) <= _LEAST_PRESSES:
        return None
    low = [_unpacked(frame[place : place + 1]) for frame in data]
    best: Count | None = None
    for side, at in (*_beside(data, place, taken), (order, None)):
        high = [0 if at is None else _unpacked(frame[at : at + 1]) for frame in data]
        if None in low or None in high:
            continue
        if at is not None and len(set(high)) == 1 and (high[0] or has_sign_byte):
            continue  # a word of its own
        counts = [100 * (b or 0) + (a or 0) for a, b in zip(low, high, strict=True)]
        goes_on = all(b - a == 1 for a, b in pairwise(counts))
        if goes_on and len({count // 10 for count in counts}) > 1:
            above = 99 if at is not None and len(set(high)) == 1 else None
            one = Count(
                place, 1 if at is None else 2, side, None, True, is_packed=True,
                carried_above=above,
            )  # fmt: skip
            best = one if best is None or side == order != best.order else best
    return best


def _unpacked(data: bytes) -> int | None:
    """The number of two decimal digits a byte; None where they are none."""
    digits = data.hex()
    return int(digits) if digits.isdecimal() else None


def _carried(data: Sequence[bytes], place: int, taken: frozenset[int]) -> Count | None:
    """A count of two bytes that were seen to be one number."""
    for order, at in _beside(data, place, taken):
        both = [256 * frame[at] + frame[place] for frame in data]
        steps = [b - a for a, b in pairwise(both)]
        has_carried = len({frame[at] for frame in data}) > 1
        # Over a press or two, a step in the high byte is one of something else beside the count.
        is_apart = any(step > 0xFF and step & 0xFF <= _FEW for step in steps)
        if has_carried and not is_apart and min(steps) > 0 and steps.count(1) >= 2:
            return Count(place, 2, order, None if max(both) & 0x8000 else _ones(max(both)), True)
    return None


def _count(
    data: Sequence[bytes], place: int, one: Stepped, taken: frozenset[int], order: Order,
    has_sign_byte: bool,
) -> Count:  # fmt: skip
    """A byte that counts, with the one beside it that is 0 as the high byte of a young count."""
    seen = [frame[place] for frame in data]
    has_top = bool(max(seen) & _TOP)
    # A byte that starts again beside one that stays 0 is a count of its own.
    goes_on = all(a < b for a, b in pairwise(seen))
    sides = [
        side
        for side, at in _beside(data, place, taken)
        if goes_on and not has_sign_byte and not any(frame[at] for frame in data)
    ]
    may_be = all(_unpacked(bytes((count,))) is not None for count in seen)
    if not sides:
        proven = None if has_top else one.free
        return Count(place, 1, order, proven, one.is_proven, may_be_packed=may_be)
    best = order if order in sides else sides[0]
    proven = _BYTE if has_top else one.free
    return Count(place, 2, best, proven, one.is_proven, may_be_packed=may_be, carried_above=_BYTE)


def _ones(number: int) -> int:
    """All bits up to the highest one of a number."""
    return (1 << number.bit_length()) - 1


def _beside(
    data: Sequence[bytes], place: int, taken: frozenset[int]
) -> Iterator[tuple[Order, int]]:
    sides: tuple[tuple[Order, int], ...] = (("big", place - 1), ("little", place + 1))
    for order, at in sides:
        if 0 <= at < len(data[0]) and at not in taken:
            yield order, at
