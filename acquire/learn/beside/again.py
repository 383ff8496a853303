"""What came again at another press, as a measured number hardly does: perhaps a code. Pure.

A number that is measured is another one at each press; a code of a few settings, or a word on how a
press went, is one of few. A temperature or a charge has few values, too, but goes one way by one.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from itertools import pairwise

from acquire.learn.numbers.held import MOST_VALUES

_DEGREES = range(18, 41)
"""Celsius, in a room where readings are taken."""
_PERCENT = range(17, 101)
"""Of a charge, above all small codes."""
_LEAST = 3
"""So many different values show that something moves by one; two may be two settings."""


def came_again(seen: Sequence[Hashable]) -> bool:
    """Whether few values were seen, and some of them at more presses than one."""
    distinct = len(set(seen))
    return 1 < distinct < len(seen) and distinct <= MOST_VALUES


def is_slow(seen: Sequence[int]) -> bool:
    """Whether these are a temperature on its way, or a charge that falls.

    Common practice, no source.
    """
    steps = {b - a for a, b in pairwise(seen)}
    if len(set(seen)) < _LEAST:
        return False
    is_warm = steps <= {0, 1} or steps <= {-1, 0}
    return (is_warm and all(one in _DEGREES for one in seen)) or (
        steps <= {-1, 0} and all(one in _PERCENT for one in seen)
    )
