"""What no press has shown and therefore makes a frame noise: bits that never changed. Pure.

A bit beside the number may be a sign, a range or a failure, whatever else its byte holds, and a
byte of which few values were seen more often than once may mean something else by another one. Only
the count of presses is let go on: all of it where it is used as their count, since a flag in it is
a leap then; of any other byte that counts, the bits that were seen.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from typing import NamedTuple

from acquire.learn.numbers.count import Count, Stepped, count_of, digit_count, stepped
from acquire.learn.numbers.number import EXACT, NumberAt
from acquire.learn.numbers.twins import Twin

_LONGEST_RUN = 8
MOST_VALUES = 4
_FEW_BITS = 3
_SIGN_VALUES = 2
_MANY_VALUES = 8

Said = tuple[int, int, int]
"""Place of a byte, a mask, and the bits beneath it."""


class Run(NamedTuple):
    """Bytes from a place on, and which of their bits have to be so."""

    place: int
    mask: bytes
    bits: bytes


class Held(NamedTuple):
    """`masks` are the bits of each byte that have to be those of any press.

    `counted` is the count that is used, `copies` the places of bytes that repeat its lowest one.
    `counters` are the places of other counts, `likely` those of what may be one and is not proven.
    `open` are those of other bytes that changed in some bits only, or had few values: those of
    `values`, which they are held to, or that went with the sign of the number: `signs`, each with
    what it is above and below zero. Another press may tell more of both. `twin` is where the
    number stands once more. `is_sign_open`: a byte that was always 0 would go on with the count,
    but for that it may be the sign of numbers that were not shown.
    """

    masks: tuple[int, ...]
    counters: tuple[int, ...]
    likely: tuple[int, ...]
    open: tuple[int, ...]
    counted: Count | None
    copies: tuple[int, ...]
    values: Mapping[int, tuple[int, ...]]
    twin: Twin | None
    signs: tuple[tuple[int, int, int], ...] = ()
    is_sign_open: bool = False

    def with_signs(self, frame: bytes, value: Decimal) -> bytes:
        """The frame with the bytes that go with the sign as they are beside a value."""
        data = bytearray(frame)
        for place, plus, minus in self.signs:
            data[place] = minus if value < 0 else plus
        return bytes(data)


def held(
    data: Sequence[bytes], number: NumberAt, proof: frozenset[int], most: Decimal, *, signed: bool,
    claimed: frozenset[int] = frozenset(), twin: Twin | None = None, may_be_below: bool = False,
    has_below: bool = True, summed: frozenset[int] = frozenset(),
) -> Held:  # fmt: skip
    """What is held in frames of this number up to `most`, without the places of the checksum.

    `signed`: numbers below zero were shown; `may_be_below`: the display has some; `has_below`: they
    are read. `claimed`: places of numbers by other explanations. `summed`: those of a checksum that
    is not checked, and of what each value says otherwise.
    """
    masks: list[int] = []
    counts: dict[int, Stepped] = {}
    open_: list[int] = []
    values: dict[int, tuple[int, ...]] = {}
    signs: list[tuple[int, int, int]] = []
    own = range(number.offset, number.end)
    # Without a checksum a frame needs its first byte to begin with.
    taken = claimed | number.places | proof | summed | (frozenset() if proof else frozenset((0,)))
    digits = digit_count(data, taken, are_legible=_are_legible(data, proof | summed))
    free = proof | summed
    free |= {place for one in (digits, twin) if one is not None for place in one.places}
    for place in range(len(data[0])):
        seen = [frame[place] for frame in data]
        still = still_of(seen)
        if place in free:
            still = 0
        elif place in own:
            still &= _own(number, place, data, most, signed=signed, has_below=has_below)
        elif number.minus is not None and place == number.minus.offset and still < 0xFF:
            if number.minus.mask == 0xFF:
                values[place] = tuple(sorted(set(seen)))
                still = 0
        elif (sign := _sign(number, seen, data)) is not None:
            signs.append((place, *sign))
            open_.append(place)
            still = 0
        elif (one := stepped(seen)) is not None:
            still &= ~one.free
            counts[place] = one
        elif still < 0xFF and place not in number.places:
            if is_number(seen, still):
                still = 0
            few = _few(seen, still)
            if few:
                values[place] = few
                still = 0
            if few or still:
                open_.append(place)
        masks.append(still)
    says_sign = number.type == "digits" or number.type.startswith("float")
    has_sign_byte = may_be_below and not (signed or says_sign)
    whole = digits or count_of(data, counts, taken, number.order)
    is_asked = has_sign_byte and digits is None
    count = count_of(data, counts, taken, number.order, has_sign_byte=True) if is_asked else whole
    own_count = count.places if count is not None else range(0)
    copies = _copies(data, count, counts)
    known = (*own_count, *copies)
    for place in known:
        masks[place] = 0
    likely = tuple(at for at, one in counts.items() if not one.is_proven and at not in copies)
    if digits is not None and not digits.is_proven:
        likely += (digits.place,)
    return Held(
        tuple(masks),
        tuple(at for at, one in counts.items() if one.is_proven and at not in known),
        likely,
        tuple(at for at in open_ if at not in own_count),
        count,
        copies,
        {at: few for at, few in values.items() if at not in own_count},
        twin,
        tuple(signs),
        count != whole,
    )


def _are_legible(data: Sequence[bytes], sums: frozenset[int]) -> bool:
    """Whether frames are texts but for what begins and ends them and their sums."""
    inner = [p for p in range(1, len(data[0]) - 1) if p not in sums and p + 1 not in sums]
    return bool(inner) and all(0x20 <= frame[p] < 0x7F for frame in data for p in inner)


def _sign(number: NumberAt, seen: Sequence[int], data: Sequence[bytes]) -> tuple[int, int] | None:
    """What a byte is above zero and below it, where it goes with the sign of a signed number.

    It may be the rest of a wider one whose parts are sent in another order.
    """
    if not number.is_signed or len(set(seen)) != _SIGN_VALUES:
        return None
    values = [number.read(frame) or Decimal(0) for frame in data]
    above = {byte for byte, value in zip(seen, values, strict=True) if value > 0}
    below = {byte for byte, value in zip(seen, values, strict=True) if value < 0}
    if len(above) != 1 or len(below) != 1 or above == below:
        return None
    return above.pop(), below.pop()


def _copies(
    data: Sequence[bytes], count: Count | None, counts: Mapping[int, Stepped]
) -> tuple[int, ...]:
    """Counting bytes that were those of the count in every press: where they part, it is noise."""
    if count is None:
        return ()
    lowest = count.lowest
    return tuple(
        place
        for place in counts
        if place not in count.places and all(frame[place] == frame[lowest] for frame in data)
    )


def _few(seen: Sequence[int], still: int) -> tuple[int, ...]:
    """The values that a byte is held to: few, some of them more than once, or of very few bits.

    They may say how the press went. None where it varies as a measured number does.
    """
    values = tuple(sorted(set(seen)))
    came_again = len(values) < len(seen)
    has_few_bits = (~still & 0xFF).bit_count() <= _FEW_BITS
    return values if len(values) <= MOST_VALUES and (came_again or has_few_bits) else ()


def is_number(seen: Sequence[int], still: int) -> bool:
    """Whether a byte is a measured number of which one bit stayed by chance.

    All bits above and below it moved, and no value is like another: nobody puts a flag there.
    """
    is_within = still.bit_count() == 1 and 0x01 < still < 0x80
    return is_within and len(set(seen)) >= _MANY_VALUES


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
    free = told.mask & ~still_of(sorted(seen))
    base = min(seen) & ~free
    codes = [base | code for code in range(free + 1) if code & ~free == 0]
    return tuple((told.offset, told.mask, code) for code in codes if code not in seen)


def still_of(seen: Sequence[int]) -> int:
    """The bits that are the same in all."""
    changed = 0
    for one in seen:
        changed |= one ^ seen[0]
    return ~changed & 0xFF


def _own(
    number: NumberAt, place: int, data: Sequence[bytes], most: Decimal, *, signed: bool,
    has_below: bool,
) -> int:  # fmt: skip
    """Which bits of the number's own bytes are held if they never changed: its sign nibble, its
    sign where no number below zero is read, and those above the largest number where that is told
    in decimals by the frame."""
    if place == number.sign_bit and not has_below:
        # Zero has a sign as well, or what looks like it is a flag.
        return 0x80
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
