"""What no press has shown and therefore makes a frame noise: bits that never changed. Pure.

A bit beside the number may be a sign, a range or a failure, whatever else its byte holds. Only a
byte that counts presses is let go on: in the bits of a count, not in its highest one, which is as
likely a flag until it was seen to change.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal
from itertools import pairwise
from typing import NamedTuple

from acquire.learn.number import EXACT, NumberAt

_LEAST_PRESSES = 3
_LONGEST_RUN = 8
_COUNTED = 0x7F
_LIKELY = 0x0F
"""Bits of what seems to count, and may be two or three bits of a status that came in order."""

Said = tuple[int, int, int]
"""Place of a byte, a mask, and the bits beneath it."""


class Run(NamedTuple):
    """Bytes from a place on, and which of their bits have to be so."""

    place: int
    mask: bytes
    bits: bytes


class Held(NamedTuple):
    """`masks` are the bits of each byte that have to be those of any press.

    `counters` are the places of counts, `likely` those of what may be one and is not proven. `open`
    are those of other bytes that changed in some bits only. Another press may tell more of both.
    """

    masks: tuple[int, ...]
    counters: tuple[int, ...]
    likely: tuple[int, ...]
    open: tuple[int, ...]


def held(
    data: Sequence[bytes], number: NumberAt, proof: frozenset[int], most: Decimal, *, signed: bool
) -> Held:
    """What is held in frames of this number up to `most`, without the places of the checksum.

    `signed`: numbers below zero were shown.
    """
    masks: list[int] = []
    counters: list[int] = []
    likely: list[int] = []
    open_: list[int] = []
    own = range(number.offset, number.end)
    for place in range(len(data[0])):
        seen = [frame[place] for frame in data]
        still = _still(seen)
        if place in proof:
            still = 0
        elif place in own:
            still &= _own(number, place, data, most, signed=signed)
        elif (count := _counted(seen)) is not None:
            still &= ~count.free
            (counters if count.is_proven else likely).append(place)
        elif 0 < still < 0xFF and place not in number.places:
            open_.append(place)
        masks.append(still)
    return Held(tuple(masks), tuple(counters), tuple(likely), tuple(open_))


def runs(
    masks: Sequence[int], example: bytes, first: int, last: int, proof: frozenset[int]
) -> Iterator[Run]:
    """The held bits of the places from `first` up to and without `last`, in as few runs as can be.

    A byte of which nothing is held may stand within a run, but none of the checksum.
    """
    place = first
    while place < last:
        if not masks[place]:
            place += 1
            continue
        stop = min(last, place + _LONGEST_RUN, *(at for at in proof if at > place))
        while not masks[stop - 1]:
            stop -= 1
        mask = bytes(masks[place:stop])
        bits = bytes(a & b for a, b in zip(mask, example[place:stop], strict=True))
        yield Run(place, mask, bits)
        place = stop


def unseen_decimals(number: NumberAt, data: Sequence[bytes]) -> tuple[Said, ...]:
    """What the bits that tell the decimals could say, and never said."""
    told = number.decimals
    if told is None:
        return ()
    seen = {frame[told.offset] & told.mask for frame in data}
    free = told.mask & ~_still(sorted(seen))
    base = min(seen) & ~free
    codes = [base | code for code in range(free + 1) if code & ~free == 0]
    return tuple((told.offset, told.mask, code) for code in codes if code not in seen)


def _still(seen: Sequence[int]) -> int:
    """The bits that are the same in all."""
    changed = 0
    for one in seen:
        changed |= one ^ seen[0]
    return ~changed & 0xFF


class _Count(NamedTuple):
    free: int
    is_proven: bool


def _counted(seen: Sequence[int]) -> _Count | None:
    """The bits of a count that goes up by one with every press; None if it is none.

    Presses may have been left out in between, or taught later, as long as it went on.
    """
    if len(seen) < _LEAST_PRESSES:
        return None
    steps = [(b - a) & 0xFF for a, b in pairwise(seen)]
    if steps.count(1) >= _LEAST_PRESSES - 1 and all(0 < step < 0x80 for step in steps):
        is_proven = max(seen) >= 8 or (len(seen) > _LEAST_PRESSES and max(seen) >= 4)
        return _Count(_COUNTED if is_proven else _LIKELY, is_proven)
    for width in range(7, 1, -1):
        low = (1 << width) - 1
        is_counting = all((b - a) & low == 1 for a, b in pairwise(seen))
        if is_counting and len({one & ~low for one in seen}) == 1:
            return _Count(low, True)
    return None


def _own(
    number: NumberAt, place: int, data: Sequence[bytes], most: Decimal, *, signed: bool
) -> int:
    """Which bits of the number's own bytes are held if they never changed: its sign nibble, and
    those above the largest number where that is told in decimals by the frame."""
    is_last = place == (number.end - 1 if number.order == "big" else number.offset)
    if number.sign == "last-nibble":
        return 0x0F if is_last else 0
    if number.decimals is None or "int" not in number.type or signed:
        return 0
    told = number.decimals
    most_decimals = max(frame[told.offset] & told.mask for frame in data)
    top = int(EXACT.scaleb(most, most_decimals)).bit_length()
    below = place - number.offset if number.order == "little" else number.end - 1 - place
    used = min(8, max(0, top - 8 * below))
    return 0xFF << used & 0xFF
