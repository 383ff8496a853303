"""The half-life of a treatment with several zones, as sure as its zones agree about it.

Zones wear each in its own way, which relates the stages of a zone to one another, and a handful of
zones does not tell how: no weights of a fit can have that in them. A weighted sum of stages can.
If the course were y = B + (A - B) exp(-n / tau) for a given tau, then the sum whose weights are the
part of its slope by tau that neither level nor height can make would be nothing on average, however
zones differ and whatever relates their stages. Each zone has one value of that sum, and their own
spread says how far from nothing it may be, as of every other result (`acquire.analysis.zones`). The
interval has every tau that is not ruled out so; the best tau, by plain least squares of the means,
is the one at which the sum is nothing. Without the levels and heights this is Rao's score test of
one figure (C. R. Rao, Proc. Camb. Phil. Soc. 44 (1948) 50, from memory), with the project's limit.

A slow course is hardly told from a slower one by that sum, nor a steep one from a steeper, while
the shares kept at the last count and at the first rule them out: a course that ends at the bare
surface keeps exp(-n / tau) after n washes. So a tau is ruled out, too, where either share is by the
readings (`acquire.analysis.durability.keeping`), and nobody is told of a half-life, or of a fall
that may be over, that what was kept beside it contradicts. The error probability is dealt to the
three: no more than `MOST_OF_SHARE` to each share, and the rest to the sum.

That the course is none of this shape shows in sums that it makes nothing of at all. Pure; any
thread.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from acquire.analysis.durability.course import Course, Distance, Washed, Washing
from acquire.analysis.durability.decay import MISFIT, DecayFit, Shape, washes_text
from acquire.analysis.durability.nonnegative import Floats
from acquire.analysis.durability.profile import Data, profile_of, taus_of
from acquire.analysis.root import crossing
from acquire.analysis.uncertainty import CONFIDENCE

MOST_OF_SHARE = 0.02
"""Of an error probability of 5 %, to what the share at one count, the first or last, rules out."""
_TRIED = 20
"""Values of tau that are tried, each some two thirds longer than the one before."""
_PRECISE = 1e-3
_NOTHING = 1e-9


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

    def score(self, tau: float) -> dict[str, float]:
        """The weights of the sum that is nothing if `tau` is true."""
        basis = self.basis(tau)
        rest = basis[:, :-1]
        slope = basis[:, -1]
        return self._weights(slope - rest @ np.linalg.lstsq(rest, slope, rcond=None)[0])

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
    names = (washing.bare, *(x.stage for x in read))
    counts = np.array([math.inf, *(float(x.washes) for x in read)])
    values = np.array([course.contrast({stage: 1.0}).estimate for stage in names])
    of_share = min(of_share, MOST_OF_SHARE)
    alpha = 1 - confidence - 2 * of_share

    # Treatments wear each at its own pace, so their zones do not tell together how these do.
    alone = replace(course, basis=replace(course.basis, cells=()))

    def away(weights: dict[str, float], level: float) -> Distance:
        return alone.distance(weights, level)

    tied = _Stages(names, counts, has_own_level=False)
    found = profile_of(Data(counts, values, np.ones_like(values), own_level=False))
    stages, shape = tied, Shape.TO_BARE
    own = tied.own_level(found.tau) if len(read) > _PARAMETERS else None
    if own is not None and _is_apart(away(own, alpha)):
        stages, shape = _Stages(names, counts, has_own_level=True), Shape.PLATEAU
        found = profile_of(Data(counts, values, np.ones_like(values), own_level=True))
    if why := away(stages.score(found.tau), alpha).lacking:
        return None, why

    def over(tau: float) -> float:
        """How far the sum, or a share, lies beyond its reach, in parts; up to 0 is inside."""
        found = [_beyond(away(stages.score(tau), alpha))]
        if shape is Shape.TO_BARE:
            for at in (2, -1):  # The first count of washes, and the last.
                left = math.exp(-(counts[at] - counts[1]) / tau)
                of_look = {washing.bare: left - 1.0, names[1]: -left, names[at]: 1.0}
                found.append(_beyond(course.distance(of_look, of_share)))
        return max(found)

    low = high = None
    rest = stages.rest(found.tau)
    if over(found.tau) <= 0:
        low, high = _limits(over, found.tau, taus_of(counts))
    lacking = _lacking(shape, found.tau, (low, high), float(counts[1:].max()))
    # The best tau lies at an end of those tried, and even that is ruled out; or the shape is.
    if over(found.tau) > 0 or any(_is_apart(away(w, MISFIT / len(rest))) for w in rest):
        lacking = "no such course describes the means of the zones"
    below, above = (None if tau is None else tau * math.log(2) for tau in (low, high))
    return DecayFit(
        shape, found.course.start, found.course.end, found.tau, None, math.inf, below, above,
        confidence, lacking,
    ), ""  # fmt: skip


_PARAMETERS = 3
"""Of a course: level, height and tau."""


def _beyond(found: Distance) -> float:
    if found.estimate is None or not found.reach:
        return -1.0
    return abs(found.estimate) / found.reach - 1


def _is_apart(found: Distance) -> bool:
    return found.is_above or found.is_below


def _lacking(
    shape: Shape, tau: float, limits: tuple[float | None, float | None], last: float
) -> str:
    low, high = limits
    is_whole = shape is Shape.TO_BARE
    at_least = (
        f"; the half-life is at least {washes_text(low * math.log(2))} washes"
        if low is not None and is_whole
        else ""
    )
    if low is None and high is None:
        return "by how the zones differ none is ruled out"
    if high is None:
        why = (
            "no fall is shown: the zones may as well stay where they began"
            if is_whole
            else "no bend is shown: the course may as well go on as it began"
        )
        return why + at_least
    if low is None:
        return (
            "the fall may be over before the looks can follow it; the half-life is at most "
            f"{washes_text(high * math.log(2))} washes"
        )
    if tau * math.log(2) > last:
        return f"washing stopped at {last:g}, before half was gone{at_least}"
    return ""


def _limits(
    over: Callable[[float], float], best: float, span: tuple[float, float]
) -> tuple[float | None, float | None]:
    """The outermost tau that are not ruled out; None where those tried are open to that side."""
    tried = np.linspace(math.log(span[0]), math.log(span[1]), _TRIED).tolist()
    points = sorted([*tried, math.log(best)])
    beyond = [over(math.exp(x)) for x in points]
    inside = [k for k, b in enumerate(beyond) if b <= 0]
    low = high = None
    for (k, x), (after, y) in pairwise(enumerate(points)):
        if after == inside[0]:
            low = math.exp(_edge(over, x, y))
        if k == inside[-1]:
            high = math.exp(_edge(over, x, y))
    return low, high


def _edge(over: Callable[[float], float], one: float, other: float) -> float:
    return crossing(lambda x: over(math.exp(x)), one, other, rel=_PRECISE)
