"""Two-sided cumulative sums of checks: see a small shift, and tell when it began.

S+_i = max(0, S+_(i-1) + z_i - k), S-_i = max(0, S-_(i-1) - z_i - k); a sum above h is an alarm
(e-Handbook of NIST/SEMATECH, 6.3.2.3; ISO 7870-4). k and h are in sigma; k = 0.5 is made for a
shift of one sigma and with h = 5 alarms in vain about every 465 checks. Sums run on after an alarm
and are not set back: what sets the meter back, a re-adjustment, begins a new segment anyway.

A shift is estimated to have begun at the first check after the sum was last 0, and to have the
size k + S/N, N the checks since (D. C. Montgomery, Introduction to Statistical Quality Control;
from memory). Like the average of `acquire.history.ewma` the sums count checks and not days, for the
same reason; where a gap lies before the check the shift began at, it began somewhere in the gap.
Pure; any thread.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from acquire.history.series import Floats, stretches

_ROUNDING = 1e-9


class Alarm(NamedTuple):
    """A stretch of one sum above h: first and last place, where the shift began, its size in sigma
    (signed) as estimated at the first alarm."""

    upward: bool
    first: int
    last: int
    began: int
    shift: float


@dataclass(frozen=True, slots=True, eq=False)
class Cusum:
    """Both sums, in sigma, and the alarms of both in order of their first place."""

    upper: Floats
    lower: Floats
    h: float
    alarms: tuple[Alarm, ...]

    @property
    def open_alarm(self) -> Alarm | None:
        """The alarm that lasts to the end; of two the one that began earlier."""
        last = len(self.upper) - 1
        return next((a for a in self.alarms if a.last == last), None)


def cusum(z: Floats, k: float = 0.5, h: float = 5.0) -> Cusum:
    """Sums of `z`, points in sigma from the centre. Raises ValueError for k < 0 or h <= 0."""
    if not (k >= 0 and h > 0):
        raise ValueError(f"k of at least 0 and h above 0 are wanted, got {k} and {h}")
    upper, lower = _sums(z - k), _sums(-z - k)
    alarms = [*_alarms(upper, k, h, upward=True), *_alarms(lower, k, h, upward=False)]
    return Cusum(upper, lower, h, tuple(sorted(alarms, key=lambda a: a.first)))


def _sums(steps: Floats) -> Floats:
    """S_i = max(0, S_(i-1) + step): how far the running total stands above its lowest so far."""
    total = np.cumsum(steps)
    return total - np.minimum(np.minimum.accumulate(total), 0)


def _alarms(sums: Floats, k: float, h: float, *, upward: bool) -> list[Alarm]:
    above = sums > h * (1 + _ROUNDING)
    if not above.any():
        return []
    zeros = np.flatnonzero(sums == 0)
    found = []
    firsts, lasts = stretches(above)
    for first, last in zip(firsts.tolist(), lasts.tolist(), strict=True):
        before = int(np.searchsorted(zeros, first))
        began = int(zeros[before - 1]) + 1 if before else 0
        size = k + float(sums[first]) / (first - began + 1)
        found.append(Alarm(upward, first, last, began, size if upward else -size))
    return found
