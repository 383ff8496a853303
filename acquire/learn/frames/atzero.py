"""What was seen only where the number was 0. Pure.

Zero is zero with any number of decimals and in any range: what a byte beside it said then, and
never beside another number, tells nothing of how other numbers are to be read.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import NamedTuple

from acquire.learn.lines.line import Line
from acquire.learn.numbers.held import Held, is_number, still_of
from acquire.learn.numbers.number import NumberAt
from acquire.learn.pieces.doubts import Doubt

_ALL = 0xFF


class AtZero(NamedTuple):
    """`held` is what goes for a number of 0 alone, `example` a frame that only that one may be.

    `states` are the bytes with what they were at such presses and at no other.
    """

    held: Held
    example: bytes
    states: tuple[tuple[int, tuple[int, ...]], ...]


class Apart(NamedTuple):
    """`held` is what goes for every number, `example` a frame that had one."""

    held: Held
    example: bytes
    at_zero: AtZero | None


def zeros_apart(
    kept: Held, number: NumberAt, data: Sequence[bytes], shown: Sequence[Decimal],
    known: Iterable[int],
) -> Apart:  # fmt: skip
    """What is held of all numbers, without what only presses of 0 had.

    `known` are the places of which is known what they are: a sum, a geometry.
    """
    others = [frame for frame, value in zip(data, shown, strict=True) if value]
    zeros = [frame for frame, value in zip(data, shown, strict=True) if not value]
    if not zeros or not others or _says_its_scale(number, data):
        return Apart(kept, data[-1], None)
    masks, values = list(kept.masks), dict(kept.values)
    states = []
    for place in sorted({*range(len(masks))} - _own(kept, number) - {*known}):
        seen = [frame[place] for frame in others]
        alone = {frame[place] for frame in zeros} - {*seen}
        added = still_of(seen) & ~still_of([frame[place] for frame in data])
        if place in values or place in kept.likely or still_of(seen) == _ALL:
            if not alone:
                continue
            values[place], masks[place] = tuple(sorted({*seen})), 0
        elif added and not is_number(seen, still_of(seen)):
            masks[place] |= added
            alone = {one for one in alone if (one ^ seen[0]) & added}
        else:
            continue
        states.append((place, tuple(sorted(alone))))
    if not states:
        return Apart(kept, data[-1], None)
    held = kept._replace(
        masks=tuple(masks), values=values, open=tuple({*kept.open, *(at for at, _ in states)})
    )
    example = next(one for one in zeros if any(one[at] in alone for at, alone in states))
    return Apart(held, others[-1], AtZero(kept, example, tuple(states)))


def codes_at_zero(line: Line, shown: Sequence[Decimal]) -> Doubt | None:
    """The doubt of what may be a code in lines without a point, of which only presses of 0 had one.

    None where a point or a power of ten says how many decimals a number has.
    """
    if line.power or any(line.point in text for text in line.values):
        return None
    for texts in line.codes:
        pairs = list(zip(texts, shown, strict=False))
        others = {text for text, value in pairs if value}
        alone = sorted({text for text, value in pairs if not value} - others)
        if alone and others:
            named = " or ".join(map(repr, alone))
            return Doubt(
                f"beside the number stood {named} only where it was 0, which does not tell how "
                "many decimals other numbers have then: press on something else in that state, or "
                "learn without the presses of 0",
                wanted=f"a press that shows another number than 0 beside {named}",
            )
    return None


def _says_its_scale(number: NumberAt, data: Sequence[bytes]) -> bool:
    """Whether the number itself says how many decimals it has: by a point, or in floating point."""
    if number.is_float:
        return number.power == 0
    return number.type == "digits" and all(
        number.point.encode("ascii") in frame[number.offset : number.end] for frame in data
    )


def _own(kept: Held, number: NumberAt) -> set[int]:
    """The places of the number, of what counts and of what goes with the sign."""
    parts = [one.places for one in (kept.counted, kept.twin) if one is not None]
    own = {*range(number.offset, number.end), *kept.copies, *kept.counters}
    return own | {at for part in parts for at in part} | {at for at, _, _ in kept.signs}
