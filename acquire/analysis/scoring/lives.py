"""Washes survived, as a scorecard counts them: the lower end of a life, and how far it may go.

A life in (low, high] means that so many whole washes were survived: `low` at least, and fewer than
`high`. Of several zones the middle one counts, of an even number the lower of the two in the
middle, so that no mean is made of lives that are "at least". Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from acquire.analysis.durability.life import Life


@dataclass(frozen=True, slots=True)
class Survived:
    """Whole washes: `least` are counted, it may have been up to `most` (infinite: not ended).

    `zones` lives are behind it. `left_out` names zones without a life, each with the reason.
    """

    least: float
    most: float
    zones: int
    left_out: tuple[str, ...] = ()

    @property
    def is_at_least(self) -> bool:
        """Whether washing stopped before the life ended."""
        return math.isinf(self.most)

    @property
    def words(self) -> str:
        if not self.zones:
            return "no gain shown that washing could take: no wash counts"
        count = f"{self.least:g} wash{'' if self.least == 1 else 'es'}"
        if self.is_at_least:
            return f"at least {count}"
        if self.most > self.least:
            return f"{self.least:g} to {self.most:g} washes, {self.least:g} counted"
        return count


NOTHING_TO_LOSE = Survived(0.0, 0.0, 0)
"""Of a treatment of which no gain was shown before the first wash."""


def survived(lives: Sequence[Life], left_out: Iterable[str] = ()) -> Survived:
    """What lives of one treatment's zones come to. Raises ValueError without any."""
    if not lives:
        raise ValueError("the lives of one zone or more are wanted, got none")
    middle = (len(lives) - 1) // 2
    least = sorted(x.low for x in lives)[middle]
    # Failed by the 30th look means that 29 whole washes may have been survived.
    most = sorted(x.high - 1 for x in lives)[middle]
    return Survived(least, max(least, most), len(lives), tuple(left_out))
