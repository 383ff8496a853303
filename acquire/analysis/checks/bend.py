"""How far a head's scale is bent between dark and open beam, as one check found it.

Dark and open beam fix a scale at its ends, and offset and drift are told there. Between them a
check knows only what a filter of certified value says: how far it lies off the straight line
through both ends, and how sure that is, which is mostly the certificate's
(`acquire.calibration.linearity` has the same departure). The bend is taken as b 4 p (1 - p) at a
part p of the scale, with b at its middle: nothing at both ends and largest between. That form is an
assumption (common practice, no source), and one filter cannot try it. What it does to readings:
`acquire.analysis.meter.bentreadings`. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from acquire.analysis.budget.uncertainty import Combined, welch_satterthwaite


class Bend(NamedTuple):
    """What one check found. `found` is how far the scale lies off the straight line in its middle.

    `piece` tells of it; `ends` are the certified values of the lowest and the highest piece, `u`
    the standard uncertainty of `found` with `nu` degrees of freedom; all in the unit of the
    readings. `head` is the serial number of the meter.
    """

    head: str
    check: int
    piece: str
    ends: tuple[float, float]
    found: float
    u: float
    nu: float

    def at(self, value: float) -> float:
        """The part of it that is in a reading of `value`: 4 p (1 - p)."""
        low, high = self.ends
        p = (value - low) / (high - low)
        return 4 * p * (1 - p)


class Point(NamedTuple):
    """A piece as one check read it; `u_certified` is a standard uncertainty, all in one unit."""

    piece: str
    read: float
    doubt: Combined
    certified: float
    u_certified: float


def bend_of(head: str, check: int, zero: Point, points: Sequence[Point]) -> Bend | None:
    """The bend by the piece nearest the middle of `zero` and the highest of `points`.

    None where no piece lies between. Uncertainty: JCGM 100:2008, 5.1.2, certificates independent.
    """
    high = max(points, key=lambda p: p.certified, default=zero)
    span = high.certified - zero.certified
    between = [p for p in points if zero.certified < p.certified < high.certified]
    if not between:
        return None
    piece = min(between, key=lambda p: abs(p.certified - zero.certified - span / 2))
    p = (piece.certified - zero.certified) / span
    middle = 4 * p * (1 - p)
    slope = (high.read - zero.read) / span
    departure = piece.read - (1 - p) * zero.read - p * high.read
    parts = [(piece, 1.0), (zero, 1 - p), (high, p)]
    found = welch_satterthwaite(
        [w * x.doubt.u / middle for x, w in parts]
        + [abs(slope) * w * x.u_certified / middle for x, w in parts],
        [x.doubt.nu for x, _ in parts] + [math.inf] * len(parts),
    )
    return Bend(
        head, check, piece.piece, (zero.certified, high.certified), departure / middle,
        found.u, found.nu,
    )  # fmt: skip
