"""Learning a meter that sends binary frames of one length. Pure.

A press is a frame, or the same frame several times. Bytes that were the same in every press are
held to be so: another byte there may say that the value means something else.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise

from acquire.learn.guard import guards
from acquire.learn.judge import Judged, judge
from acquire.learn.number import NumberAt
from acquire.learn.press import About, Press
from acquire.learn.proofs import Proven, binary
from acquire.learn.search import numbers
from acquire.model import Quantity
from acquire.wire import Proof

LONGEST_FRAME = 256
_LONGEST_MARKER = 8
_MOST_CONDITIONS = 8


@dataclass(frozen=True, slots=True)
class Frame:
    """An explanation that is sure of its number: the layout of all frames."""

    length: int
    number: NumberAt
    start: bytes
    end: bytes
    where: tuple[tuple[int, bytes], ...]
    bits: tuple[tuple[int, int, int], ...]
    proven: Proven
    counter: int | None
    guards: tuple[tuple[int, int, int], ...]
    example: bytes
    repeats: int


@dataclass(frozen=True, slots=True)
class Frames:
    """What is known of the frames: `frame` is None where that is not sure."""

    judged: Judged
    frame: Frame | None
    varies: tuple[int, ...]


def one_of(data: bytes) -> tuple[bytes, int]:
    """The frame of a press and how often it stands there."""
    for size in range(2, len(data) // 2 + 1):
        if len(data) % size == 0 and data == data[:size] * (len(data) // size):
            return data[:size], len(data) // size
    return data, 1


def frames(presses: Sequence[Press], about: About) -> Frames | str:
    """What is learned, or in plain words why these are no frames of one length."""
    ones = [one_of(press.data) for press in presses]
    lengths = sorted({len(data) for data, _ in ones})
    # A frame of equal halves in one press only is no repeat.
    if len(lengths) > 1:
        ones = [(press.data, 1) for press in presses]
        lengths = sorted({len(data) for data, _ in ones})
    if len(lengths) > 1:
        return f"presses of {', '.join(map(str, lengths[:-1]))} and {lengths[-1]} bytes"
    if not 2 <= lengths[0] <= LONGEST_FRAME:
        return f"presses of {lengths[0]} bytes"
    data = [one for one, _ in ones]
    shown = [press.shown for press in presses]
    found = numbers(data, shown)
    if not found:
        return Frames(Judged(None, ()), None, _varying(data))
    judged = judge(found, data, about.reach(shown), shown)
    if judged.best is None:
        return Frames(judged, None, _varying(data))
    reach = about.reach(shown)
    # How far a force gauge goes is a guess from the presses, unless somebody said it.
    is_trusted = about.kind is not Quantity.FORCE or about.most is not None
    repeats = max(n for _, n in ones)
    return Frames(judged, _frame(judged, data, reach, repeats, is_trusted), _varying(data))


def _varying(data: Sequence[bytes]) -> tuple[int, ...]:
    return tuple(i for i, seen in enumerate(zip(*data, strict=True)) if len(set(seen)) > 1)


def _frame(
    judged: Judged,
    data: Sequence[bytes],
    reach: tuple[Decimal, Decimal],
    repeats: int,
    is_trusted: bool,
) -> Frame:
    best = judged.best
    assert best is not None
    length, example = len(data[0]), data[-1]
    proven = binary(data, best.places)
    taken = set(best.places)
    if isinstance(proven.proof, Proof):
        taken |= set(range(proven.proof.at, proven.proof.at + proven.proof.size))
    fixed = [place not in _varying(data) and place not in taken for place in range(length)]
    first = next((i for i, is_fixed in enumerate(fixed) if not is_fixed), length)
    start = min(first, _LONGEST_MARKER)
    last = next((i for i, is_fixed in enumerate(reversed(fixed)) if not is_fixed), length)
    end = min(last, _LONGEST_MARKER)
    where = []
    place = start
    while place < length - end:
        if not fixed[place]:
            place += 1
            continue
        stop = place
        while stop < length - end and fixed[stop] and stop - place < _LONGEST_MARKER:
            stop += 1
        where.append((place, example[place:stop]))
        place = stop
    where.sort(key=lambda run: -len(run[1]))
    return Frame(
        length,
        best,
        example[:start],
        example[length - end :],
        tuple(sorted(where[: _MOST_CONDITIONS - 2])),
        _held_bits(best, data),
        proven,
        _counter(data, taken),
        guards(judged, reach, is_trusted=is_trusted),
        example,
        repeats,
    )


def _held_bits(number: NumberAt, data: Sequence[bytes]) -> tuple[tuple[int, int, int], ...]:
    """Bits (place, mask, bits) beside those that tell decimals or sign: they stay as they were."""
    held = []
    for part in (number.decimals, number.minus):
        if part is None:
            continue
        seen = [frame[part.offset] & ~part.mask & 0xFF for frame in data]
        mask = ~part.mask & 0xFF
        for other in seen:
            mask &= ~(other ^ seen[0])
        if mask:
            held.append((part.offset, mask, seen[0] & mask))
    return tuple(held)


def _counter(data: Sequence[bytes], taken: set[int]) -> int | None:
    """A byte that goes up by one with every press, three presses at least."""
    if len(data) < 3:
        return None
    for place in range(len(data[0])):
        if place not in taken and all((b[place] - a[place]) & 0xFF == 1 for a, b in pairwise(data)):
            return place
    return None
