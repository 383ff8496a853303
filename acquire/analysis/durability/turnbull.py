"""The share still alive at each count, estimated from lives known as intervals only.

The nonparametric maximum likelihood estimate for interval censoring: mass can lie only in the
Turnbull intervals, each from a left end to the next right end with no other end between (R. Peto,
Appl. Statist. 22 (1973) 86; B. W. Turnbull, J. R. Statist. Soc. B 38 (1976) 290; from memory).
Where inside one of them its mass lies the records do not tell, so the curve has bounds there and no
value. With looks at the same counts it is the grouped life table; with exact and right-censored
lives it is the product limit of Kaplan and Meier. Pure; any thread.

Which ends belong to an interval matters where looks share their counts. A wash life is (low, high]:
it passed at `low`. Closed intervals [low, high] are a setting, for records of other origin.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from acquire.analysis.durability.life import Life
from acquire.analysis.durability.mixture import most_likely
from acquire.analysis.durability.nonnegative import Floats

_CLOSED, _RIGHT, _OPEN = 0, 1, 2
"""Order of ends at one count: a left end that is in, a right end, a left end that is out."""
_HALF = 0.5 - 1e-9
_NOTHING = 1e-9


class MassInterval(NamedTuple):
    """A Turnbull interval and its estimated share of all lives; `high` is always part of it.

    `low` is part of it only with `closed`; where `low` equals `high` it is that one count.
    """

    low: float
    high: float
    mass: float
    closed: bool


@dataclass(frozen=True, slots=True)
class IntervalEstimate:
    """The estimate from `n` lives; `intervals` in order are all that can bear mass, some with 0.

    `is_unique` is False where other masses are as likely; the shares shown are then one choice.
    `gap` bounds how much the log-likelihood could still rise.
    """

    n: int
    intervals: tuple[MassInterval, ...]
    log_likelihood: float
    gap: float
    is_unique: bool

    @property
    def bearing(self) -> tuple[MassInterval, ...]:
        """Those with a share above nothing."""
        return tuple(i for i in self.intervals if i.mass > _NOTHING)

    def beyond(self, count: float) -> tuple[float, float]:
        """Bounds of P(T > count), parts of 1; both are the same outside the mass intervals."""
        gone = [i.high <= count for i in self.intervals]
        left = [i.low > count or (i.low == count and not i.closed) for i in self.intervals]
        return self._bounds(gone, left)

    def at_least(self, count: float) -> tuple[float, float]:
        """Bounds of P(T >= count), parts of 1."""
        gone = [i.high < count for i in self.intervals]
        left = [i.low >= count for i in self.intervals]
        return self._bounds(gone, left)

    def _bounds(self, gone: Sequence[bool], left: Sequence[bool]) -> tuple[float, float]:
        low = math.fsum(i.mass for i, is_left in zip(self.intervals, left, strict=True) if is_left)
        lost = math.fsum(i.mass for i, is_gone in zip(self.intervals, gone, strict=True) if is_gone)
        return min(1.0, low), min(1.0, max(low, 1.0 - lost))

    @property
    def median(self) -> Life | None:
        """Between which counts the share alive falls to a half; never a number between them.

        None where the mass interval is one count, which `median_count` has.
        """
        found = self._median()
        return Life(found.low, found.high) if found.high > found.low >= 0 else None

    @property
    def median_count(self) -> float | None:
        """The median where it is one count, by exact records; else None."""
        found = self._median()
        return found.low if found.high == found.low else None

    def _median(self) -> MassInterval:
        lost = 0.0
        for interval in self.intervals:
            lost += interval.mass
            if lost >= _HALF:
                return interval
        return self.intervals[-1]

    @property
    def words(self) -> str:
        """How much of the curve the records tell, in sentences."""
        count = len(self.intervals)
        text = (
            f"{self.n} {'life' if self.n == 1 else 'lives'}, {count} Turnbull "
            f"interval{'' if count == 1 else 's'}, {len(self.bearing)} of them with a share above "
            "0. Where inside an interval its share lies is not known."
        )
        if not self.is_unique:
            text += " Other shares are exactly as likely: those shown are one choice of several."
        return text


def estimate_lives(lives: Sequence[Life]) -> IntervalEstimate:
    """The estimate from wash lives, (low, high]. Raises ValueError without any."""
    return interval_estimate([x.low for x in lives], [x.high for x in lives])


def interval_estimate(
    left: Sequence[float], right: Sequence[float], *, closed: bool = False
) -> IntervalEstimate:
    """The estimate from records (left, right], or [left, right] if `closed`; right may be inf.

    Where both ends are one count the life is known exactly, in either form. Raises ValueError for
    no record, lists of different length, or ends that contradict each other.
    """
    keys = [_ends(a, b, closed) for a, b in _paired(left, right)]
    weight = Counter(keys)
    records = sorted(weight)
    cliques = _cliques(records)
    members = np.array([[a <= c and d <= b for c, d in cliques] for a, b in records], dtype=float)
    found = most_likely(members, np.array([float(weight[r]) for r in records]))
    intervals = tuple(
        MassInterval(a[0], b[0], float(m), a[1] == _CLOSED)
        for (a, b), m in zip(cliques, found.masses, strict=True)
    )
    return IntervalEstimate(len(keys), intervals, found.log_likelihood, found.gap, found.is_unique)


_End = tuple[float, int]


def _paired(left: Sequence[float], right: Sequence[float]) -> list[tuple[float, float]]:
    if len(left) != len(right) or not left:
        raise ValueError(f"as many left as right ends, at least one: {len(left)} and {len(right)}")
    return list(zip(left, right, strict=True))


def _ends(a: float, b: float, closed: bool) -> tuple[_End, _End]:
    if not (math.isfinite(a) and b >= a):
        raise ValueError(f"contradictory interval: from {a:g} to {b:g}")
    return (a, _CLOSED if closed or a == b else _OPEN), (b, _RIGHT)


def _cliques(records: Sequence[tuple[_End, _End]]) -> list[tuple[_End, _End]]:
    """Each left end that is followed at once by a right end, with that right end."""
    ends = sorted({(end, is_right) for r in records for is_right, end in enumerate(r)})
    return [
        (one, other)
        for (one, one_right), (other, other_right) in itertools.pairwise(ends)
        if not one_right and other_right
    ]


def memberships(
    estimate: IntervalEstimate, left: Sequence[float], right: Sequence[float], *, closed: bool
) -> Floats:
    """Which mass intervals each record holds, shape (records, intervals), in the order given."""
    cliques = [
        ((i.low, _CLOSED if i.closed else _OPEN), (i.high, _RIGHT)) for i in estimate.intervals
    ]
    keys = [_ends(a, b, closed) for a, b in _paired(left, right)]
    return np.array([[a <= c and d <= b for c, d in cliques] for a, b in keys], dtype=float)
