"""Which line of a press has the number of the display, where lines are built alike. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TypeVar

Spot = TypeVar("Spot")


def of_own_line(found: Sequence[Mapping[int, Spot]]) -> list[list[Spot]]:
    """The ways to take one spot of each press, of those `found` in it by their lines.

    A peak is the number on the display at some presses, and the number itself at all of them. So it
    is a line that has it at every press, each for itself where several do; and only where no line
    does, the last one of each press: the line of the number is now this one and now that.
    """
    same = sorted(set(found[0]).intersection(*found[1:]))
    ways = [[here[line] for here in found] for line in same]
    return ways or [[here[max(here)] for here in found]]
