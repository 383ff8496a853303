"""The points of one item and product with their draws, before they are summed. Pure."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
_NOTHING = np.zeros(0)


@dataclass(frozen=True, slots=True)
class Line:
    """`points` is None where there are none, and `why` says why.

    `draws` are the points with all errors drawn, `unshifted` the same with the known shifts of the
    meter taken off, `is_of_one` whether these are there only if what one piece found was of a kind.
    `ways` are the points in each of the ways in which a meter may be off whose checks read one
    piece, as read and without the shifts of that way, in one order for all lines of a `meter`.
    `slack` is how much more they may be because a life is counted at its least.
    `notes` are sentences that hold for more than this line. `is_late` where they rest on a reading
    that was taken when the surface of its stage was gone.
    """

    item: str
    found: str = ""
    points: float | None = None
    draws: Floats = field(default_factory=lambda: _NOTHING, repr=False)
    unshifted: Floats = field(default_factory=lambda: _NOTHING, repr=False)
    slack: float = 0.0
    is_at_least: bool = False
    why: str = ""
    notes: tuple[str, ...] = ()
    is_late: bool = False
    is_of_one: bool = False
    meter: str = ""
    ways: tuple[Floats, ...] = field(default=(), repr=False)

    @property
    def interval(self) -> tuple[float, float]:
        """95 % of the draws, as read and without the known shifts, in whichever way."""
        drawn = (self.draws, self.unshifted, *self.ways)
        each = [np.quantile(d, [0.025, 0.975]) for d in drawn]
        return float(min(b[0] for b in each)), float(max(b[1] for b in each))


def no_points(item: str, why: str) -> Line:
    """An item that a product has no points for."""
    return Line(item, why=why or "it was not measured")
