"""Bytes that a line gives when something is switched on or plugged in, and that nobody sent. Pure.

A level that falls and rises once is taken for a byte whose bits are all alike, or change once: 00,
80, C0 and so on to FF. A few such bytes before a press, which no other press begins with, are none
of it. A press that has them is noise later; so nothing that they may mean is ever read as a value.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from acquire.learn.presses.framing import is_text
from acquire.learn.presses.press import LEAST_PRESSES, Press

_LEVELS = frozenset(0xFF << bits & 0xFF for bits in range(9))
_MOST = 8
_WHY = "as a line gives them when a meter is switched on or plugged in"


class Unstrayed(NamedTuple):
    """The presses without stray bytes, and what is said of these; nothing where there were none."""

    presses: tuple[Press, ...]
    words: str = ""


def is_stray(data: bytes) -> bool:
    """Whether these are a few bytes that nobody sent, and no press."""
    return 0 < len(data) <= _MOST and _LEVELS.issuperset(data)


def stray_words(data: bytes, place: int) -> str:
    """What is told of such bytes by themselves, before the press of this number."""
    told = data.hex(" ").upper()
    return f"press {place}: {told} came, {_WHY}: set aside, and no press"


def without_levels(data: bytes) -> bytes:
    """The bytes behind such ones at the beginning, or all where there is nothing behind them."""
    bare = data.lstrip(bytes(_LEVELS))
    return bare if len(data) - len(bare) <= _MOST and bare else data


def unstrayed(presses: Sequence[Press]) -> Unstrayed:
    """Without bytes before one press that no other one begins with."""
    if len(presses) < LEAST_PRESSES:
        return Unstrayed(tuple(presses))
    for place, press in enumerate(presses):
        others = [one.data for at, one in enumerate(presses) if at != place]
        size = _stray_before(press.data, others)
        if size:
            told = press.data[:size].hex(" ").upper()
            bare = [*presses]
            bare[place] = replace(press, data=press.data[size:])
            words = (
                f"{told} before press {place + 1} of {len(presses)} came {_WHY}, and was set "
                "aside: a press with bytes before it is noise"
            )
            return Unstrayed(tuple(bare), words)
    return Unstrayed(tuple(presses))


def _stray_before(data: bytes, others: Sequence[bytes]) -> int:
    """How many bytes at the beginning are stray: as frames of one length show it, or a text."""
    firsts = {other[:1] for other in others}
    lengths = {len(other) for other in others}
    if len(lengths) == len(firsts) == 1:
        size = len(data) - lengths.pop()
        if is_stray(data[: max(size, 0)]) and data[size : size + 1] in firsts:
            return size
    if data[:1] in firsts:
        return 0
    bare = without_levels(data)
    are_text = all(other.isascii() and is_text([other]) for other in [*others, bare])
    return len(data) - len(bare) if are_text and not any(f <= b"\0" for f in firsts) else 0
