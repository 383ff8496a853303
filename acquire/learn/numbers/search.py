"""Every place and form in which the numbers that were shown stand in the bytes. Pure; any thread.

Digits that stand together are one number. Else nothing is left out because something fits better:
who judges is `acquire.learn.numbers.judge`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from decimal import Decimal
from functools import cache

from acquire.learn.numbers.number import DECIMALS, EXACT, Bits, Mark, NumberAt
from acquire.learn.presses.press import LEAST_PRESSES, decimals_of, half_step, tell_enough

POWERS = range(-2, 9)
"""Of ten: how many decimals a scaled number may have too many."""

_MASKS = (0xFF, 0x0F, 0x07, 0x03)
_MOST_DECIMALS = 7
_MOST_ROOM = 16
"""Bytes of the widest number, of digits."""
_LEAST_POINTED = 3
"""Bytes of the shortest digits with a point among them."""
_SIGNS = tuple((ord(plus), ord("-")) for plus in "+ 0")
"""Characters that say plus and minus."""
_TOP = 0x80
_OFTEN = 2
"""Presses above zero and below it that prove what two other bytes mean."""
_WORDS = 4
"""Bytes of a number of two words. The one that says how large it is tells a short number nearly by
itself, so that of floating point both orders of words are tried."""


def numbers(frames: Sequence[bytes], shown: Sequence[Decimal]) -> list[NumberAt]:
    """All numbers that are, in every frame, exactly what was shown for it.

    Only where there is none, floating-point numbers that are it when they are rounded.
    """
    found: list[NumberAt] = []
    others: list[tuple[NumberAt, list[Decimal | None]]] = []
    # Most forms are wrong in the first frame already, whatever their power and sign.
    could_be = {EXACT.scaleb(abs(shown[0]), power) for power in POWERS}
    # A top bit that no press had is no sign of an integer.
    has_below = min(shown) < 0
    for form, first in _likely(frames[0], could_be):
        if form.is_magnitude and not has_below:
            continue
        raws = [first, *(form.raw(frame) for frame in frames[1:])]
        fixed = _fixed(form, raws, shown)
        found += [replace(form, power=power) for power in fixed]
        if not (fixed or form.is_float):
            others.append((form, raws))
    if not found and tell_enough(shown):
        found = [one for form in _floats(len(frames[0])) for one in _rounded(form, frames, shown)]
    # A power or a sign told elsewhere is looked for only where the number does not stand by itself:
    # with few presses some byte nearly always seems to tell one.
    if not found:
        found = [one for form, raws in others for one in _told(form, raws, frames, shown)]
    elif tops := {one.sign_bit for one in found if one.is_magnitude}:
        # The byte of that bit may as well be none of the number's, and its other bits be flags.
        told = [one for form, raws in others for one in _told(form, raws, frames, shown)]
        found += [
            n
            for n in told
            if n.minus and (n.minus.offset, n.minus.mask) in {(top, _TOP) for top in tops}
        ]
    return _whole(_without_seams(found), frames)


def _without_seams(found: list[NumberAt]) -> list[NumberAt]:
    """Without the end of one number and the beginning of the same one behind it, taken for one.

    Of a number that is sent twice these are its two words in the other order.
    """
    first = min((n for n in found if n.type == "float32"), key=lambda n: n.offset, default=None)
    if first is None:
        return found
    alike = (n for n in found if n.type == first.type and n.is_swapped == first.is_swapped)
    owns = {(n.offset, n.order) for n in alike}
    half = _WORDS // 2
    return [
        n
        for n in found
        if n.type != first.type
        or n.is_swapped == first.is_swapped
        or not {(n.offset - half, n.order), (n.offset + half, n.order)} <= owns
    ]


def _whole(found: list[NumberAt], frames: Sequence[bytes]) -> list[NumberAt]:
    """Without parts of longer runs of digits: those that stand together are one number.

    So are a sign and the digits behind it.
    """
    runs = [(n.offset, n.end) for n in found if n.type == "digits"]

    def is_part(one: NumberAt) -> bool:
        own = (one.offset, one.end)
        before = [frame[max(own[0] - 1, 0) : own[0]] for frame in frames]
        behind = [frame[own[1] : own[1] + 1] for frame in frames]
        has_wider = any(a <= own[0] and own[1] <= b and (a, b) != own for a, b in runs)
        is_signed = all(side in (b"+", b"-") for side in before)
        return has_wider and (
            is_signed or any(all(map(bytes.isdigit, side)) for side in (before, behind))
        )

    def goes_on(one: NumberAt) -> bool:
        """Whether a digit that changes stands beside: the display may not show all digits.

        Those before a sign are of another number.
        """
        has_sign = all(frame[one.offset : one.offset + 1] in (b"+", b"-") for frame in frames)
        sides = [
            [b"" if has_sign else frame[max(one.offset - 1, 0) : one.offset] for frame in frames],
            [frame[one.end : one.end + 1] for frame in frames],
        ]
        return any(all(map(bytes.isdigit, side)) and len(set(side)) > 1 for side in sides)

    return [n for n in found if n.type != "digits" or not (is_part(n) or goes_on(n))]


def _rounded(
    form: NumberAt, frames: Sequence[bytes], shown: Sequence[Decimal]
) -> Iterator[NumberAt]:
    """Floating-point numbers that have more digits than the display, which rounds them.

    At a half it may go either way. Of three bytes at random one in some hundred thousand is within
    half a step of one number, and of three numbers next to none.
    """
    decimals = decimals_of(shown)
    half = half_step(decimals)

    def fits(frame: bytes, value: Decimal, powers: Iterable[int]) -> list[int]:
        raw = form.raw(frame)
        if raw is None:
            return []
        return [p for p in powers if abs(EXACT.subtract(EXACT.scaleb(raw, -p), value)) <= half]

    powers: Sequence[int] = POWERS
    for frame, value in zip(frames, shown, strict=True):
        powers = fits(frame, value, powers)
        if not powers:
            return
    for power in powers:
        yield replace(form, power=power, rounded=decimals)


def _likely(frame: bytes, could_be: set[Decimal]) -> Iterator[tuple[NumberAt, Decimal]]:
    """Every form that is one of these in a frame, but for its sign, and what it is there.

    There are some eighty for each place, so that most are left out before one is made.
    """
    wholes = {int(number) for number in could_be if number == int(number)}
    floats = {form: form.floats(could_be) for form in _at(_MOST_ROOM) if form.is_float}
    for offset in range(len(frame)):
        for form in _at(min(len(frame) - offset, _MOST_ROOM)):
            data = frame[offset : offset + form.size]
            if form.is_float:
                if data not in floats[form]:
                    continue
            elif form.type != "digits":
                whole = form.whole(data)
                if whole is None or abs(whole) not in wholes:
                    continue
            raw = form.raw(data)
            if raw is not None and raw.copy_abs() in could_be:
                yield replace(form, offset=offset), raw


def _floats(length: int) -> Iterator[NumberAt]:
    for offset in range(length):
        for form in _at(min(length - offset, _MOST_ROOM)):
            if form.is_float:
                yield replace(form, offset=offset)


@cache
def _at(room: int) -> tuple[NumberAt, ...]:
    """Every form that a number has whose first byte is the first of so many."""
    return tuple(_forms(room))


def _forms(room: int) -> Iterator[NumberAt]:
    for size in (1, 2, 3, 4):
        for order in ("big", "little"):
            if size > room or (size == 1 and order == "little"):
                continue
            for name in ("uint", "int"):
                yield NumberAt(0, size, f"{name}{8 * size}", order)
            yield NumberAt(0, size, f"uint{8 * size}", order, "top-bit")
    for size in (4, 8):
        if size == _WORDS and size <= room:
            yield NumberAt(0, size, "float32", "big", is_swapped=True)
            yield NumberAt(0, size, "float32", "little", is_swapped=True)
        if size <= room:
            yield NumberAt(0, size, f"float{8 * size}", "big")
            yield NumberAt(0, size, f"float{8 * size}", "little")
    for size in range(1, min(room, 8) + 1):
        for sign in ("none", "last-nibble", "top-bit"):
            yield NumberAt(0, size, "bcd", "big", sign)
            if size > 1:
                yield NumberAt(0, size, "bcd", "little", sign)
    # A single digit is an integer as well.
    for size in range(2, min(room, 8) + 1):
        yield NumberAt(0, size, "unpacked", "big")
        yield NumberAt(0, size, "unpacked", "little")
    for size in range(1, min(room, _MOST_ROOM) + 1):
        yield NumberAt(0, size, "digits")
        if size >= _LEAST_POINTED:
            yield NumberAt(0, size, "digits", point=",")


def _powers(form: NumberAt, shown: Sequence[Decimal]) -> list[int]:
    """The powers that can be.

    Digits give no more decimals than the display has: a last one that is always 0 is none of the
    number's, and what it says when it is another nobody has seen.
    """
    most = decimals_of(shown) if form.type in ("digits", *DECIMALS) else max(POWERS)
    return [power for power in POWERS if power <= most]


def _fixed(form: NumberAt, raws: Sequence[Decimal | None], shown: Sequence[Decimal]) -> list[int]:
    """The powers with which all numbers are those shown; several only where all are zero."""
    return [
        power
        for power in _powers(form, shown)
        if all(
            raw is not None and EXACT.scaleb(raw, -power) == value
            for raw, value in zip(raws, shown, strict=True)
        )
    ]


def _told(
    form: NumberAt,
    raws: Sequence[Decimal | None],
    frames: Sequence[bytes],
    shown: Sequence[Decimal],
) -> Iterator[NumberAt]:
    """The same number with its decimals or its sign told by another byte."""
    if any(raw is None for raw in raws):
        return
    sizes = [abs(raw) for raw in raws if raw is not None]
    is_signed = all((raw or 0) * value >= 0 for raw, value in zip(raws, shown, strict=True))
    wanted = [abs(value) for value in shown]
    fixed = [
        p
        for p in _powers(form, shown)
        if all(EXACT.scaleb(a, -p) == b for a, b in zip(sizes, wanted, strict=True))
    ]
    if fixed and not is_signed and min(raw or 0 for raw in raws) >= 0 and not form.is_signed:
        for mark in _marks(form, frames, shown):
            yield replace(form, power=fixed[0], minus=mark)
    if not is_signed or fixed:
        return
    # Zero has any number of decimals, and tells none.
    told = [place for place, value in enumerate(wanted) if value]
    # Nor is any other number shown as zero by it.
    if len(told) < LEAST_PRESSES or any(sizes[at] for at, value in enumerate(wanted) if not value):
        return
    powers = []
    for size, value in ((sizes[place], wanted[place]) for place in told):
        power = next((p for p in range(_MOST_DECIMALS) if EXACT.scaleb(size, -p) == value), None)
        if power is None:
            return
        powers.append(power)
    if len(set(powers)) == 1:
        # What never changed tells nothing of a number that does not stand by itself.
        return
    for offset in range(len(frames[0])):
        if form.offset <= offset < form.end:
            continue
        for mask in _MASKS:
            codes = [frame[offset] & mask for frame in frames]
            if [codes[place] for place in told] == powers and {*codes} <= {*powers}:
                yield replace(form, decimals=Bits(offset, mask))


def _marks(form: NumberAt, frames: Sequence[bytes], shown: Sequence[Decimal]) -> Iterator[Mark]:
    for offset in range(len(frames[0])):
        if form.offset <= offset < form.end:
            continue
        signs = [(frame[offset], value) for frame, value in zip(frames, shown, strict=True)]
        below = {byte for byte, value in signs if value < 0}
        above = {byte for byte, value in signs if value > 0}
        if len(below) != 1 or len(above) != 1 or below == above:
            continue
        minus, plus = below.pop(), above.pop()
        bits = minus ^ plus
        if bits.bit_count() == 1:
            yield Mark(offset, bits, minus & bits)
            continue
        # Of several bits it is not known what a third value would mean: the byte is held whole.
        often = min(sum(v < 0 for _, v in signs), sum(v > 0 for _, v in signs)) >= _OFTEN
        yield Mark(offset, 0xFF, minus, (plus, minus) in _SIGNS or often)
