"""The half-life of a treatment with several zones, as sure as its zones agree about it.

Zones wear each in its own way, which relates the stages of a zone to one another, and a handful of
zones does not tell how: no weights of a fit can have that in them. A weighted sum of stages can.
Each zone has one value of it, and their own spread says how far from nothing it may be, as of every
other result (`acquire.analysis.specimens.zones`). So the figure is that of the best course y = B +
(A - B) exp(-n / tau), by plain least squares of the means, while its interval is made of such sums
and takes no course for granted (`acquire.analysis.durability.halving`): a few zones hardly tell an
exponential from other courses, and an interval of tau held where half was gone in no more than a
third of drawn courses to a plateau.

The course ends at the bare surface, unless what the bare surface has to itself is shown to be
something. That it is none of this shape shows in sums that it makes nothing of at all, and in
shares kept (`acquire.analysis.durability.keeping`) that rule out what it would have left: then
there is no figure, and the interval is told by itself. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from acquire.analysis.budget.uncertainty import CONFIDENCE
from acquire.analysis.durability.course import Course, Distance, Washed, Washing
from acquire.analysis.durability.decay import MISFIT, DecayFit, Shape
from acquire.analysis.durability.halving import Halving, halving_of, looked_of
from acquire.analysis.durability.nonnegative import Floats
from acquire.analysis.durability.profile import Data, Profile, profile_of

_NOTHING = 1e-9
_PARAMETERS = 3
"""Of a course: level, height and tau."""


@dataclass(frozen=True, slots=True)
class _Stages:
    """The stages of a fit in order, `bare` first, and their counts; infinite for `bare`."""

    names: tuple[str, ...]
    counts: Floats
    has_own_level: bool

    def basis(self, tau: float) -> Floats:
        """Columns: level, course, its slope by tau; and the bare level where it is its own."""
        finite = np.isfinite(self.counts)
        n = np.where(finite, self.counts, 0.0)
        first = float(n[n > 0].min())
        course = np.where(finite, np.exp(-n / tau), 0.0)
        # From the first count on, so that a short tau leaves something of it.
        slope = np.where(finite, n * np.exp(-np.maximum(n - first, 0.0) / tau), 0.0)
        columns = [np.ones_like(n), course, slope / first]
        if self.has_own_level:
            columns.insert(2, np.where(finite, 0.0, 1.0))
        return np.column_stack(columns)

    def rest(self, tau: float) -> list[dict[str, float]]:
        """Weights of the sums that no course near this one makes anything of."""
        q = np.linalg.qr(self.basis(tau), mode="complete")[0]
        return [self._weights(q[:, k]) for k in range(self.basis(tau).shape[1], len(self.names))]

    def own_level(self, tau: float) -> dict[str, float] | None:
        """Weights of what the bare surface has to itself; None where nothing is left of it."""
        basis = self.basis(tau)
        bare = np.where(np.isfinite(self.counts), 0.0, 1.0)
        left = bare - basis @ np.linalg.lstsq(basis, bare, rcond=None)[0]
        return self._weights(left) if float(np.abs(left).max()) > _NOTHING else None

    def _weights(self, of: Floats) -> dict[str, float]:
        # One unit up and one down in all, so that figures are of the size of a gain. What rounding
        # left goes to no stage: weights sum to nothing exactly.
        size = float(np.abs(of).sum())
        found = [0.0 if abs(w) < _NOTHING * size else 2 * w / size for w in of.tolist()]
        found[-1] -= math.fsum(found)
        return dict(zip(self.names, found, strict=True))


def zone_decay(
    course: Course,
    washing: Washing,
    read: Sequence[Washed],
    of_share: float,
    confidence: float = CONFIDENCE,
) -> tuple[DecayFit | None, str]:
    """The fit over the zones that were read at all of these stages, or why there is none.

    `course` has two zones or more on either side, and three counts or more are read, the start
    among them. `of_share` is the two-sided level at which shares kept are told.
    """
    alpha = 1 - confidence
    names = (washing.bare, *(x.stage for x in read))
    counts = np.array([math.inf, *(float(x.washes) for x in read)])
    if why := next((w for x in read[1:] if (w := _why_none(course, washing, x, alpha))), ""):
        return None, why
    values = np.array([course.contrast({stage: 1.0}).estimate for stage in names])

    # Treatments wear each at its own pace, so their zones do not tell together how these do.
    alone = replace(course, basis=replace(course.basis, cells=()))

    def is_something(weights: dict[str, float], level: float) -> bool:
        return _is_apart(alone.distance(weights, level))

    stages, shape = _Stages(names, counts, has_own_level=False), Shape.TO_BARE
    found = profile_of(Data(counts, values, np.ones_like(values), own_level=False))
    own = stages.own_level(found.tau) if len(read) > _PARAMETERS else None
    if own is not None and is_something(own, alpha):
        stages, shape = _Stages(names, counts, has_own_level=True), Shape.PLATEAU
        found = profile_of(Data(counts, values, np.ones_like(values), own_level=True))

    halving = halving_of(course, washing, read, alpha)
    looked = looked_of(course, washing, read, of_share)
    half = _half_of(found, float(values[0]))
    rest = stages.rest(found.tau)
    is_other = any(is_something(w, MISFIT / len(rest)) for w in rest) or any(
        _is_apart(course.distance(_less_kept(washing, x, share), of_share))
        for x, share in zip(read[1:], _shares(found, float(values[0]), counts[2:]), strict=True)
    )
    lacking = _lacking(half, halving, float(counts[-1]), is_other=is_other)
    fit = DecayFit(
        shape, found.course.start, found.course.end, found.tau, None, math.inf, halving.low,
        halving.high, confidence, lacking, half_of_gain=half,
    )  # fmt: skip
    return fit.beside(looked), ""


def _why_none(course: Course, washing: Washing, look: Washed, alpha: float) -> str:
    return course.distance(_less_kept(washing, look, 0.5), alpha).lacking


def _less_kept(washing: Washing, look: Washed, share: float) -> dict[str, float]:
    """Weights of the gain at a look less a share of the first."""
    return {washing.bare: share - 1.0, washing.start: -share, look.stage: 1.0}


def _half_of(found: Profile, bare: float) -> float | None:
    """After how many washes the course has half of its gain left; None where it keeps more."""
    start, end = found.course.start, found.course.end
    left = (start + bare) / 2 - end if start is not None else 0.0
    if start is None or not (start - end) * left > 0:
        return None
    return found.tau * math.log((start - end) / left)


def _shares(found: Profile, bare: float, counts: Floats) -> list[float]:
    """What the course keeps of its first gain at these counts."""
    start, end = found.course.start, found.course.end
    if start is None or start == bare:
        return [1.0] * counts.size
    kept = end - bare + (start - end) * np.exp(-counts / found.tau)
    return [float(share) for share in kept / (start - bare)]


def _is_apart(found: Distance) -> bool:
    return found.is_above or found.is_below


def _lacking(half: float | None, halving: Halving, last: float, *, is_other: bool) -> str:
    low, high = halving.low, halving.high
    if high is None:
        return f"half of the gain is not surely gone by the last count, {last:g} washes"
    if low is None:
        return "half of the gain may be gone before the first count"
    if is_other or half is None or not low <= half <= high:
        return "no exponential course describes the means of the zones"
    return ""
