"""How a meter writes the digits of a number in its frames, by those of its presses. Pure.

What no press has shown is written otherwise by another state or by a fault: a point in digits that
had none, spaces where zeros filled them up, a sign that was never sent.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from acquire.learn.number import NumberAt


class Digits(NamedTuple):
    """`decimals` stand behind the point; zeros fill them up where they are `is_full`; `has_plus`:
    always a sign, or never one of numbers above zero. None is what differed.
    """

    decimals: int | None
    is_full: bool
    has_plus: bool | None


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
    return [frame[number.offset : number.end] for frame in frames]


def _are_full(texts: Sequence[bytes]) -> bool:
    """Whether zeros fill them up: one was seen before another digit, and never a space."""
    bare = [text.lstrip(b"+-") for text in texts]
    has_zero = any(text[:1] == b"0" and text[1:2].isdigit() for text in bare)
    return has_zero and not any(b" " in text for text in texts)
