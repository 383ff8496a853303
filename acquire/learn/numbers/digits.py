"""How a meter writes the digits of a number in its frames, by those of its presses. Pure.

What no press has shown is written otherwise by another state or by a fault: a point in digits that
had none, spaces where zeros filled them up, a sign that was never sent.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from typing import NamedTuple

from acquire.learn.numbers.leadzeros import shown_most
from acquire.learn.numbers.number import EXACT, NumberAt, pointed


class Digits(NamedTuple):
    """`decimals` stand behind the point; zeros fill them up where they are `is_full`; `has_plus`:
    always a sign, or never one of numbers above zero. None is what differed.
    """

    decimals: int | None
    is_full: bool
    has_plus: bool | None


class Room(NamedTuple):
    """`least` and `most` are the numbers for which a frame of one length has room, as presses
    wrote them; None where presses wrote decimals in several ways.

    `digits` are those that presses had, None where some had more; `is_filled`: they have shown what
    fills up a number with fewer. At `shown_most` zeros would end that stood before all numbers.
    """

    least: Decimal | None
    most: Decimal | None
    digits: int | None
    is_filled: bool
    shown_most: Decimal | None = None


def room_of(number: NumberAt, frames: Sequence[bytes]) -> Room | None:
    """The room for the digits of a number; None of another type, whose bytes are as many for all.

    Digits become more and fewer with the number, unless spaces or zeros fill them up.
    """
    if number.type != "digits":
        return None
    texts = _texts(number, frames)
    bare = [text.strip(b" ").lstrip(b"+-").strip(b" ") for text in texts]
    counts = [len(text.replace(b".", b"")) for text in bare]
    tails = {len(text[text.index(b".") :]) if b"." in text else 0 for text in bare}
    has_zero = any(text[:1] == b"0" and text[1:2].isdigit() for text in bare)
    # Without spaces a sign has taken the place of a digit.
    has_space = any(b" " in text for text in texts)
    is_filled = has_zero or (has_space and len(set(counts)) > 1)
    least = most = None
    if len(tails) == 1:
        (tail,) = tails
        signs = any(text.lstrip(b" ")[:1] == b"+" for text in texts)
        wholes = number.size - tail - signs
        is_apart = signs or number.minus is not None
        most = EXACT.scaleb(_nines(wholes, tail), -number.power)
        least = EXACT.scaleb(-_nines(wholes - (not is_apart), tail), -number.power)
    digits = counts[0] if len(set(counts)) == 1 else None
    power = number.power if number.decimals is None and number.power > 0 else 0
    has_point = any(b"." in text for text in texts)
    top = shown_most([text.decode("ascii") for text in texts], ".", 0 if has_point else power)
    return Room(least, most, digits, is_filled, top)


def _nines(wholes: int, tail: int) -> Decimal:
    """The largest number of so many digits, with a `tail` of a point and decimals behind them."""
    step = Decimal(1).scaleb(-max(tail - 1, 0))
    return EXACT.subtract(Decimal(1).scaleb(max(wholes, 0)), step)


def digits_of(number: NumberAt, frames: Sequence[bytes]) -> Digits | None:
    """How the digits are written in all frames; None of another type."""
    if number.type != "digits":
        return None
    texts = _texts(number, frames)
    decimals = {len(text.partition(b".")[2]) for text in texts}
    has_plus = any(b"+" in text for text in texts)
    is_signed = all(text.strip(b" ")[:1] in (b"+", b"-") for text in texts)
    return Digits(
        decimals.pop() if len(decimals) == 1 else None,
        _are_full(texts),
        is_signed if has_plus and is_signed else (None if has_plus else False),
    )


def narrowed(number: NumberAt, frames: Sequence[bytes]) -> NumberAt:
    """The number without spaces that stand before it in all frames, where zeros fill it up."""
    if number.type != "digits":
        return number
    spaces = min(len(text) - len(text.lstrip(b" ")) for text in _texts(number, frames))
    other = replace(number, offset=number.offset + spaces, size=number.size - spaces)
    return other if spaces and _are_full(_texts(other, frames)) else number


def _texts(number: NumberAt, frames: Sequence[bytes]) -> list[bytes]:
    return [pointed(frame[number.offset : number.end]) for frame in frames]


def _are_full(texts: Sequence[bytes]) -> bool:
    """Whether zeros fill them up: one was seen before another digit, and never a space."""
    bare = [text.lstrip(b"+-") for text in texts]
    has_zero = any(text[:1] == b"0" and text[1:2].isdigit() for text in bare)
    return has_zero and not any(b" " in text for text in texts)
