"""Sure or not: whether one reading of the bytes is right whichever of the explanations holds.

Each explanation that is left could be how the meter talks. One of them may be written into a
profile only if it reads every number that the display can show as the meter would send it by any
of the others, and gives no other number where a byte changes that is none of the meter's number.
Where there is no such one, the numbers in which they differ are the presses that would tell.
Pure.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from decimal import Decimal
from itertools import chain
from typing import NamedTuple

from acquire.learn.numbers.limits import Limits
from acquire.learn.numbers.number import EXACT, Mark, NumberAt
from acquire.learn.presses.press import decimals_of

_CHANGES = (0x00, 0x01, 0x02, 0x10, 0x31, 0x7F, 0x80, 0xFF)
"""What a byte may change to that is none of the number's."""
MOST_TRIES = 300_000
"""Numbers read and written before it gives up: some seconds."""
_SPACE = 0x20
_DIGITS = frozenset(b"0123456789")


class Judged(NamedTuple):
    """`best` is sure; None where it takes another press.

    With a `best` there may still be a number below zero that would tell more: without it such
    numbers may be noise.

    `tell_above` and `tell_below`: such a number, or beyond it, would tell the `rivals` apart; None
    where none of that side would. `tell_between` is one within what was shown, of another size than
    the numbers that were: several values of a frame, say, whose first bytes were alike so far.
    `has_given_up`: there are so many `rivals` that not all were held against one another.
    """

    best: NumberAt | None
    rivals: tuple[NumberAt, ...]
    tell_above: Decimal | None = None
    tell_below: Decimal | None = None
    tell_between: Decimal | None = None
    has_given_up: bool = False


class _GaveUpError(Exception):
    """Everything allowed was tried."""


class _Tries:
    """How much was tried so far, and how much may be."""

    def __init__(self, most: int) -> None:
        self._left = most

    def spend(self) -> None:
        self._left -= 1
        if self._left < 0:
            raise _GaveUpError


def judge(
    found: Sequence[NumberAt],
    frames: Sequence[bytes],
    reach: tuple[Decimal, Decimal],
    shown: Sequence[Decimal],
    limits_of: Callable[[NumberAt], Limits],
    *,
    most_tries: int = MOST_TRIES,
) -> Judged:
    """What can be said of the explanations that are left.

    Of each only what is within its limits will be read, so only there it has to be right.
    """
    constant = frozenset(
        i for i, seen in enumerate(zip(*frames, strict=True)) if len(set(seen)) == 1
    )
    numbers = _possible(found, reach, decimals_of(shown))
    bases = _bases(frames, shown)
    order = sorted(found, key=lambda one: _rank(one, shown))
    above, below, between = _telling(order, bases, numbers, shown)
    tries = _Tries(most_tries)
    # Whoever contradicted one explanation contradicts most others: it is asked first.
    others = list(order)

    def is_right(best: NumberAt, *, is_lenient: bool) -> bool:
        limits = limits_of(best)
        for place, other in enumerate(others):
            if other is not best and not _covers(
                best, limits, other, bases, constant, numbers, is_lenient, tries
            ):
                others.insert(0, others.pop(place))
                return False
        return True

    try:
        for is_lenient in (False, True):
            for best in order:
                if best.minus is not None and not best.minus.is_proven:
                    continue
                if is_right(best, is_lenient=is_lenient):
                    return Judged(best, tuple(order), tell_below=below if is_lenient else None)
    except _GaveUpError:
        return Judged(None, tuple(order), above, below, between, has_given_up=True)
    return Judged(None, tuple(order), above, below, between)


def _rank(one: NumberAt, shown: Sequence[Decimal]) -> tuple[int | str, ...]:
    """Which explanation is tried before which.

    The narrower one leaves more bytes to be held to what they were; a signed one reads more, but a
    top bit of decimals that nobody has shown to be a sign is none.
    """
    is_unseen = one.sign == "top-bit" and min(shown, default=Decimal(0)) >= 0
    is_unsigned = is_unseen or not one.is_signed
    places = (one.offset, one.type, one.order, one.is_swapped, one.power)
    return (one.size, is_unsigned, *places, is_unseen)


class _Bases(NamedTuple):
    """The last press above zero and the last one below: another byte may tell the sign."""

    above: bytes
    below: bytes

    def of(self, value: Decimal) -> bytes:
        """The one into which such a value is written."""
        return self.below if value < 0 else self.above


def _bases(frames: Sequence[bytes], shown: Sequence[Decimal]) -> _Bases:
    pairs = list(zip(frames, shown, strict=True))
    above = [frame for frame, value in pairs if value >= 0] or frames
    below = [frame for frame, value in pairs if value < 0] or frames
    return _Bases(above[-1], below[-1])


def _possible(
    found: Sequence[NumberAt], reach: tuple[Decimal, Decimal], decimals: int
) -> list[Decimal]:
    """Numbers of the display at which explanations could part: about the limits of each."""
    low, high = reach
    step = EXACT.scaleb(Decimal(1), -decimals)
    edges = {low, high, Decimal(0), step, -step, 10 * step, -10 * step, low / 2, high / 2}
    for number in found:
        unit = EXACT.scaleb(Decimal(1), -number.power)
        edges |= {unit * (1 << bits) for bits in (7, 8, 12, 15, 16, 20, 23, 24, 31)}
        edges |= {unit * 10**digits for digits in range(1, 9)}
        edges |= {unit * 8 * 10**digits for digits in range(8)}
    near = {edge + shift * step for edge in edges for shift in (-1, 0, 1)}
    near |= {-edge for edge in near}
    rounded = {
        EXACT.quantize(n, step) if n.is_finite() else n
        for n in near
        if abs(n) <= abs(high) + abs(low)
    }
    return sorted(n for n in rounded if low <= n <= high)


def _covers(
    best: NumberAt,
    limits: Limits,
    other: NumberAt,
    bases: _Bases,
    constant: frozenset[int],
    numbers: Sequence[Decimal],
    is_lenient: bool,
    tries: _Tries,
) -> bool:
    """Whether `best` reads whatever a meter by `other` can show.

    `is_lenient`: numbers below zero may be noise; no other number is read for them.
    """
    if best.minus is not None and best.minus != other.minus:
        return False
    strange = best.places - other.places
    # Of a byte that only tells the sign the other bits are none of that number's.
    mark = other.minus if best.is_magnitude else None
    held = constant - best.places
    for value in numbers:
        tries.spend()
        base = bases.of(value)
        frame = other.write(value, base)
        if frame is None:
            continue
        is_noise = any(frame[place] != base[place] for place in held)
        read = None if is_noise else _within(best, limits, frame)
        may_be_noise = (is_lenient and value < 0) or not limits.holds(value)
        if read != value and not (may_be_noise and read is None):
            return False
        if is_noise:
            continue
        for changed in chain(_changed(frame, strange), _beside(frame, mark)):
            tries.spend()
            if _within(best, limits, changed) not in (value, None):
                return False
    return True


def _within(number: NumberAt, limits: Limits, frame: bytes) -> Decimal | None:
    """What a profile of this number takes a frame for.

    One with more decimals than the display shows is noise, where those are not rounded.
    """
    read = number.read(frame)
    if read is None or not limits.holds(read):
        return None
    is_finer = number.rounded is None and EXACT.scaleb(read, limits.decimals) % 1 != 0
    return None if is_finer else read


def _changed(frame: bytes, places: frozenset[int]) -> Iterator[bytes]:
    for place in places:
        for byte in _CHANGES:
            # A space before digits fills them up; what else may come there is no digit.
            if byte != frame[place] and not (frame[place] == _SPACE and byte in _DIGITS):
                yield frame[:place] + bytes((byte,)) + frame[place + 1 :]


def _beside(frame: bytes, mark: Mark | None) -> Iterator[bytes]:
    """The frame with other bits beside those of a mark."""
    if mark is None:
        return
    own = frame[mark.offset] & mark.mask
    for byte in _CHANGES:
        other = bytes((own | byte & ~mark.mask & 0xFF,))
        yield frame[: mark.offset] + other + frame[mark.offset + 1 :]


def _telling(
    found: Sequence[NumberAt], bases: _Bases, numbers: Sequence[Decimal], shown: Sequence[Decimal]
) -> tuple[Decimal | None, Decimal | None, Decimal | None]:
    """From which number on, up and down, not all explanations would send the same bytes.

    Beyond what was shown already: that has not told. And the one within it that is farthest from
    all that was shown.
    """
    parts = [v for v in numbers if len({number.write(v, bases.of(v)) for number in found}) > 1]
    above = [v for v in parts if v > max(Decimal(0), *shown)]
    below = [v for v in parts if v < min(Decimal(0), *shown)]
    most, least = max(shown, default=Decimal(0)), min(Decimal(0), *shown)
    between = [v for v in parts if least <= v < most and v not in shown]
    far = max(between, key=lambda v: min(abs(v - s) for s in shown), default=None)
    return (above[0] if above else None), (below[-1] if below else None), far
