"""How well an exponential course of each time constant fits: the profile of its sum of squares.

For a given tau the course y = B + (A - B) exp(-n / tau) is a straight problem in A and B, so the
sum of squares is a function of tau alone, followed here over all tau that the counts can tell.
Readings of the bare surface are the course at infinite n. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from acquire.analysis.durability.nonnegative import Floats
from acquire.analysis.laws.root import crossing

_POINTS = 240
_FARTHEST = 30.0
_GOLDEN = (math.sqrt(5) - 1) / 2
_SHORTEST, _LONGEST = 1 / 40, 200.0
"""tau from a 40th of the least step between counts to 200 times the whole span: beyond, a course
is a step or a straight line to the twelfth digit or the fourth, and no reading tells more."""


class Course(NamedTuple):
    """The best course for one tau: height at count 0, end level, sum of weighted squares.

    The height is None where the first count is so late that it cannot be told.
    """

    start: float | None
    end: float
    squares: float


@dataclass(frozen=True, slots=True)
class Data:
    """Rows in order: counts (inf for bare ones), values, and weights 1/u or 1.

    With `own_level` the bare rows have a level of their own, beside the end of the course.
    """

    counts: Floats
    values: Floats
    weights: Floats
    own_level: bool

    @property
    def fitted(self) -> int:
        """How many figures are fitted, tau among them."""
        bare = bool(np.isinf(self.counts).any())
        return 3 + (1 if self.own_level and bare else 0)

    def courses(self, taus: Floats) -> tuple[Floats, Floats, Floats]:
        """For each tau: fall C and end B of y = B + C exp(-(n - n0) / tau), and its squares.

        n0 is the first count, so that no power is so small that nothing is left of it.
        """
        course = np.ones(self.counts.size, dtype=bool)
        if self.own_level:
            course = np.isfinite(self.counts)
        n, y, w = self.counts[course], self.values[course], self.weights[course] ** 2
        left = np.exp(-(n - self.first) / taus[:, None])
        left_mean = left @ w / w.sum()
        y_mean = float(y @ w / w.sum())
        off, rest = left - left_mean[:, None], y - y_mean
        size = off**2 @ w
        fall = np.divide(off @ (w * rest), size, out=np.zeros_like(size), where=size > 0)
        squares = (rest - fall[:, None] * off) ** 2 @ w + _about_mean(
            self.values[~course], self.weights[~course]
        )
        return fall, y_mean - fall * left_mean, squares

    @property
    def first(self) -> float:
        return float(self.counts.min())

    def course(self, tau: float) -> Course:
        fall, end, squares = (float(v[0]) for v in self.courses(np.array([tau])))
        power = self.first / tau
        # A course cannot be followed back so far that its height is no number.
        start = end + fall * math.exp(power) if power < _FARTHEST else None
        return Course(start, end, squares)

    def level_squares(self) -> float:
        """The sum of squares about one level, the bare rows at their own if they have it."""
        if not self.own_level:
            return _about_mean(self.values, self.weights)
        bare = np.isinf(self.counts)
        return sum(_about_mean(self.values[r], self.weights[r]) for r in (bare, ~bare))


def _about_mean(values: Floats, weights: Floats) -> float:
    if values.size == 0:
        return 0.0
    w = weights**2
    return float(w @ (values - w @ values / w.sum()) ** 2)


@dataclass(frozen=True, slots=True)
class Profile:
    """The best `tau` and its course, and the sum of squares over ln tau of the `grid`."""

    data: Data
    tau: float
    course: Course
    grid: Floats
    squares: Floats

    def limits(self, limit: float) -> tuple[float | None, float | None]:
        """Outermost tau with a sum of squares up to `limit`; None where it is open to that side."""
        inside = np.flatnonzero(self.squares <= limit)
        first, last = int(inside[0]), int(inside[-1])

        def over(x: float) -> float:
            return float(self.data.courses(np.array([math.exp(x)]))[2][0]) - limit

        low = high = None
        if first > 0:
            low = math.exp(crossing(over, float(self.grid[first - 1]), float(self.grid[first])))
        if last < self.grid.size - 1:
            high = math.exp(crossing(over, float(self.grid[last]), float(self.grid[last + 1])))
        return low, high


def taus_of(counts: Floats) -> tuple[float, float]:
    """The shortest and the longest tau that two or more different finite counts can tell."""
    finite = np.unique(counts[np.isfinite(counts)])
    return float(np.diff(finite).min()) * _SHORTEST, float(finite[-1] - finite[0]) * _LONGEST


def profile_of(data: Data) -> Profile:
    """Follow the profile of `data` with two different finite counts or more."""
    shortest, longest = taus_of(data.counts)
    grid = np.linspace(math.log(shortest), math.log(longest), _POINTS)

    def squares(x: float) -> float:
        return float(data.courses(np.array([math.exp(x)]))[2][0])

    found = data.courses(np.exp(grid))[2]
    best = int(np.argmin(found))
    low, high = grid[max(0, best - 1)], grid[min(grid.size - 1, best + 1)]
    at = _lowest(squares, float(low), float(high))
    course = data.course(math.exp(at))
    if course.squares > found[best]:
        at = float(grid[best])
        course = data.course(math.exp(at))
    place = int(np.searchsorted(grid, at))
    return Profile(
        data, math.exp(at), course, np.insert(grid, place, at),
        np.insert(found, place, course.squares),
    )  # fmt: skip


def _lowest(function: Callable[[float], float], low: float, high: float) -> float:
    """The lowest point between two bounds by golden section."""
    a, b = low, high
    c, d = b - _GOLDEN * (b - a), a + _GOLDEN * (b - a)
    f_c, f_d = function(c), function(d)
    while b - a > 1e-9:
        if f_c <= f_d:
            b, d, f_d = d, c, f_c
            c = b - _GOLDEN * (b - a)
            f_c = function(c)
        else:
            a, c, f_c = c, d, f_d
            d = a + _GOLDEN * (b - a)
            f_d = function(d)
    return (a + b) / 2
