"""Where a value crosses its criterion: by straight lines between counts, with an interval.

The interval inverts the band of the interpolated line (E. C. Fieller, J. R. Statist. Soc. B 16
(1954) 175, a line at a time): from the first count at which the line less its doubt meets the
criterion to the first at which the line with its doubt is beyond it. It holds the doubt of the
readings, not that the course between two counts may be bent: between which counts it happened is
`between`, which needs no line. Pure; any thread.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from acquire.analysis.durability.life import Life
from acquire.analysis.figures import rounded
from acquire.analysis.laws.student import t_factor
from acquire.analysis.samples.summary import checked


class Reached(StrEnum):
    """What became of the criterion."""

    CROSSED = "crossed"
    NOT_REACHED = "not reached"
    ALREADY_BEYOND = "beyond at the first count"


class Passage(NamedTuple):
    """Where the line passes the criterion, `at` a count; `outward` where that ends the life."""

    at: float
    outward: bool


@dataclass(frozen=True, slots=True)
class Crossing:
    """The first time a value goes beyond its criterion.

    `count` is where, None where it was not reached or was beyond from the start. `low` and `high`
    are the interval of that count; `high` is None where the readings do not bound it, `low` is the
    last count where not even their doubt reaches the criterion. `passages` are all of them in
    order, those back included. `between` is the life by the readings as they are, None where the
    first one is beyond.
    """

    reached: Reached
    count: float | None
    low: float
    high: float | None
    passages: tuple[Passage, ...]
    between: Life | None
    confidence: float

    @property
    def words(self) -> str:
        share = f"{100 * self.confidence:g} %"
        if self.reached is Reached.ALREADY_BEYOND:
            return "The criterion is failed at the first count: there is no crossing to find."
        limits = (
            f"{_digits(self.low)} to {_digits(self.high)}"
            if self.high is not None
            else f"from {_digits(self.low)} on, not bounded above by these readings"
        )
        if self.count is None:
            assert self.between is not None
            if self.low >= self.between.low and self.high is None:
                return f"Not reached: {self.between.words}."
            return f"Not reached: {self.between.words}; {share} interval {limits}."
        text = f"Reached at {_digits(self.count)} washes, {share} interval {limits}."
        if len(self.passages) > 1:
            text += (
                f" The line passes the criterion {len(self.passages)} times; the first counts, and "
                "which one is true the readings may not tell."
            )
        return text


def _digits(washes: float) -> str:
    """A number of washes to three digits, whole ones in full."""
    return f"{washes:g}" if washes == round(washes) else rounded(washes, washes / 10)


def crossing_of(
    counts: Sequence[float],
    values: Sequence[float],
    threshold: float,
    *,
    us: Sequence[float] | None = None,
    u_shared: float = 0.0,
    nu: float = math.inf,
    covariance: Sequence[Sequence[float]] | None = None,
    falls: bool = True,
    confidence: float = 0.95,
) -> Crossing:
    """Where `values` first go below `threshold`, or above it where not `falls`.

    `us` are the standard uncertainties of the values, each for itself, and `u_shared` that which
    all values share and the criterion does not, with `nu` degrees of freedom; all in the unit of
    the values. `covariance`, of shape (values, values) in their order, stands in the place of both
    where values are related otherwise. Any order of counts. Raises ValueError for lists of
    different length or none, a count twice, uncertainties below 0, or figures that are not finite.
    """
    doubts = [0.0] * len(values) if us is None else list(us)
    if not counts or not len(counts) == len(values) == len(doubts):
        raise ValueError(
            f"as many counts as values and uncertainties, one or more: {len(counts)}, "
            f"{len(values)} and {len(doubts)}"
        )
    if len(set(counts)) != len(counts):
        raise ValueError("one value a count is wanted: take the mean of its readings")
    if min(*doubts, u_shared) < 0:
        raise ValueError(f"uncertainties of 0 or more are wanted, got {min(*doubts, u_shared)}")
    k = t_factor(nu, confidence)
    sign = 1.0 if falls else -1.0
    order = sorted(range(len(counts)), key=lambda i: counts[i])
    table = covariance
    if table is None:
        table = _related(doubts, u_shared)
    points = [
        _Point(
            checked(counts[i]),
            sign * (checked(values[i]) - checked(threshold)),
            checked(table[i][i]),
            checked(table[i][after]),
        )
        for i, after in zip(order, [*order[1:], order[-1]], strict=True)
    ]
    passages = _passages(points)
    last = points[-1].at
    low, high = _limits(points, k)
    low = last if low is None else low
    if points[0].d < 0:
        return Crossing(
            Reached.ALREADY_BEYOND, None, points[0].at, high, passages, None, confidence
        )
    beyond = next((i for i, p in enumerate(points) if p.d < 0), None)
    if beyond is None:
        return Crossing(Reached.NOT_REACHED, None, low, high, passages, Life(last), confidence)
    between = Life(points[beyond - 1].at, points[beyond].at)
    first = next(p.at for p in passages if p.outward)
    return Crossing(Reached.CROSSED, first, low, high, passages, between, confidence)


class _Point(NamedTuple):
    """A value at a count: `d` its distance from the criterion, below 0 beyond it.

    `square` is its squared uncertainty, `related` its covariance with the next one.
    """

    at: float
    d: float
    square: float
    related: float


def _related(us: Sequence[float], shared: float) -> list[list[float]]:
    """The covariances of values with uncertainties of their own and one that all share."""
    common = checked(shared) ** 2
    return [
        [common + (checked(u) ** 2 if i == j else 0.0) for j in range(len(us))]
        for i, u in enumerate(us)
    ]


def _passages(points: Sequence[_Point]) -> tuple[Passage, ...]:
    found = []
    for one, other in itertools.pairwise(points):
        if (one.d < 0) != (other.d < 0):
            part = one.d / (one.d - other.d)
            found.append(Passage(one.at + part * (other.at - one.at), other.d < 0))
    return tuple(found)


def _limits(points: Sequence[_Point], k: float) -> tuple[float | None, float | None]:
    """The first count that may be beyond the criterion, and the first that surely is."""
    low = high = None
    for one, other in itertools.pairwise(points):
        parts = [0.0, *_meetings(one, other, k), 1.0]
        for part, after in itertools.pairwise(parts):
            # Between two meetings of band and criterion neither edge changes its side; a band that
            # only touches the criterion has not passed it.
            near, far = _edges(one, other, (part + after) / 2, k)
            at = one.at + part * (other.at - one.at)
            if after > part and low is None and near < 0:
                low = at
            if after > part and high is None and far < 0:
                high = at
    last = points[-1]
    near, far = _edges(last, last, 1.0, k)
    low = last.at if low is None and near < 0 else low
    return low, last.at if high is None and far < 0 else high


def _edges(one: _Point, other: _Point, part: float, k: float) -> tuple[float, float]:
    """The distances of both edges of the band from the criterion, below 0 beyond it."""
    distance = one.d + part * (other.d - one.d)
    rest = 1 - part
    square = rest**2 * one.square + 2 * rest * part * one.related + part**2 * other.square
    reach = k * math.sqrt(max(0.0, square))
    return distance - reach, distance + reach


def _meetings(one: _Point, other: _Point, k: float) -> list[float]:
    """The parts of the stretch, 0 to 1 in order, at which |distance| is k uncertainties."""
    slope = other.d - one.d
    a = slope**2 - k * k * (one.square - 2 * one.related + other.square)
    b = 2 * (one.d * slope + k * k * (one.square - one.related))
    c = one.d**2 - k * k * one.square
    if a == 0:
        roots = [] if b == 0 else [-c / b]
    else:
        # A square that rounding put just below 0 is a line that touches.
        square = b * b - 4 * a * c
        if square < -1e-12 * (b * b + abs(4 * a * c)):
            return []
        q = -(b + math.copysign(math.sqrt(max(0.0, square)), b)) / 2
        roots = [q / a, c / q if q else q / a]
    return sorted(min(1.0, max(0.0, r)) for r in roots if -1e-9 <= r <= 1 + 1e-9)
