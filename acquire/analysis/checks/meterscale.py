"""How the error of a meter runs along its scale, as the pieces of a check tell it.

A check reads the reference piece of the certified value c off by d, and further pieces c_k off by
d_k. It is kept in parts, so that a budget can show each: d at the reference piece; the rise along
the line from the foot (a piece of the value zero, or near it) to the reference piece; and for each
piece besides how far it lies off that line, which is a kink there. How the error runs between the
pieces no reading of theirs says. It may run straight from piece to piece, or in a curve through
them, for which a parabola stands; midway between both it is taken, and half of what they are apart
is the standard deviation of two courses that are equally likely (an assumption; common practice, no
source). Pure; any thread.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from typing import NamedTuple

from acquire.analysis.budget.uncertainty import Combined

EXACT = Combined(0.0, math.inf)
"""For a check whose own scatter and display are not told, or count elsewhere."""

_APART = 0.1
"""Part of the line by which pieces must lie apart: between nearer ones a slope is mostly noise
(common practice, no source)."""


class Beside(NamedTuple):
    """What the same checks found at another piece than the reference piece.

    `deviation` is that of the opening check, `drift` what it had moved by at the closing one (None
    where that did not read it), `u` the standard uncertainty of its certificate.
    """

    piece: str
    certified: float
    deviation: float
    drift: float | None
    u: float
    opening_doubt: Combined = EXACT
    closing_doubt: Combined = EXACT


class Kink(NamedTuple):
    """How far the meter errs at a piece off the line from the foot to the reference piece.

    `part` is where on that line the piece lies: 0 at the foot, 1 at the reference piece. `found` is
    that of the opening check, `drift` what it had moved by (0 where nothing is known of it).
    `nodes` are the certified values of all pieces in rising order, `place` its own among them.
    """

    beside: Beside
    part: float
    found: float
    drift: float
    nodes: tuple[float, ...]
    place: int

    def at(self, value: float) -> float:
        """The part of it that is in a reading of `value`: 1 at the piece, 0 at all others.

        Midway between the courses of a straight line and of a parabola.
        """
        return (self._straight(value) + self._curved(value)) / 2

    def apart(self, value: float) -> float:
        """Half of what the parabola has more of it there than the straight line."""
        return (self._curved(value) - self._straight(value)) / 2

    def _straight(self, value: float) -> float:
        """From piece to piece, and on beyond the last one."""
        after = min(max(bisect_right(self.nodes, value), 1), len(self.nodes) - 1)
        low, high = self.nodes[after - 1], self.nodes[after]
        t = (value - low) / (high - low)
        return (1 - t) * (self.place == after - 1) + t * (self.place == after)

    def _curved(self, value: float) -> float:
        """In the parabola through the piece and the two next to it, and on beyond the last one."""
        last, own = len(self.nodes) - 1, self.nodes[self.place]
        first = min(max(self.place - 1, 0), last - 2)
        three = self.nodes[first : first + 3]
        if (value < three[0] and first > 0) or (value > three[2] and first + 2 < last):
            return 0.0
        return math.prod([(value - other) / (own - other) for other in three if other != own])


class Rise(NamedTuple):
    """By how much more the meter errs at its reference piece than at its foot, `span` below it.

    `found` at the opening check, `drift` until the closing one (0 where nothing is known of it).
    `base` is the certified value of the reference piece, from which readings are counted.
    `drift_base` is the same of the drift, None where the closing check did not read the foot:
    whether the meter drifted at all values alike is not known then. `kinks` are what other pieces
    add. `is_of_one` where no check read a foot: then all of it may be there, or nothing
    (`acquire.analysis.meter.onepiece`).
    """

    span: float
    found: float
    drift: float
    base: float
    drift_base: float | None = None
    kinks: tuple[Kink, ...] = ()
    is_of_one: bool = False

    def course(self, drift: float) -> float:
        """The size of the drift that all parts of it are counted in; `drift` is that of the piece.

        0 where it is `drift` alone, the same for all readings, that is known.
        """
        parts = (self.drift, *(k.drift for k in self.kinks))
        if not any(parts):
            return 0.0
        return abs(drift) or max(map(abs, parts))

    def drifted(self, value: float, base: float) -> float:
        """By how much more than its piece a reading of `value` had drifted at the closing check."""
        grown = self.drift * (value - base) / self.span
        return grown + math.fsum([k.drift * k.at(value) for k in self.kinks])


def foot_of(reference: Beside, others: Sequence[Beside], zeros: Sequence[Beside]) -> Beside | None:
    """The piece from which the line to the reference piece is drawn; None where none will do.

    A piece of the value zero before all others, else the lowest one, or the highest one above where
    the reference piece is itself the lowest. What lies nearer than a quarter of the certified value
    will not do: a line through both, drawn on to zero, would be more noise than the meter's error
    at zero is likely to be (common practice, no source).
    """
    for zero in zeros:
        if zero.certified < reference.certified:
            return zero
    far = [
        o for o in others if abs(o.certified - reference.certified) >= 0.25 * reference.certified
    ]
    below = [o for o in far if o.certified < reference.certified]
    if below:
        return min(below, key=lambda o: o.certified)
    return max(far, key=lambda o: o.certified, default=None)


def kinks_of(reference: Beside, foot: Beside, others: Sequence[Beside]) -> tuple[Kink, ...]:
    """What `others` lie off the line from `foot` to `reference`; those too near to one are left."""
    span = reference.certified - foot.certified
    kept = [reference, foot]
    for one in sorted(others, key=lambda o: o.certified):
        if all(abs(one.certified - k.certified) >= _APART * abs(span) for k in kept):
            kept.append(one)
    nodes = tuple(sorted(k.certified for k in kept))
    found = []
    for one in kept[2:]:
        part = (one.certified - foot.certified) / span
        drifts = (one.drift, reference.drift, foot.drift)
        moved = 0.0
        if all(d is not None for d in drifts):
            own, high, low = (d or 0.0 for d in drifts)
            moved = own - part * high - (1 - part) * low
        found.append(
            Kink(
                one, part, one.deviation - part * reference.deviation - (1 - part) * foot.deviation,
                moved, nodes, nodes.index(one.certified),
            )
        )  # fmt: skip
    return tuple(found)
