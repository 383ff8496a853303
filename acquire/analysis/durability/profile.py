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
from acquire.analysis.root import crossing

_POINTS = 240
_GOLDEN = (math.sqrt(5) - 1) / 2
_SHORTEST, _LONGEST = 1 / 40, 200.0
"""tau from a 40th of the least step between counts to 200 times the whole span: beyond, a course
is a step or a straight line to the twelfth digit or the fourth, and no reading tells more."""


class Course(NamedTuple):
    """The best course for one tau: height at count 0, end level, sum of weighted squares."""

    start: float
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

    def course(self, tau: float) -> Course:
        left = np.exp(-self.counts / tau)
        bare = np.isinf(self.counts)
        columns = [left, 1 - left]
        if self.own_level and bare.any():
            columns = [np.where(bare, 0, left), np.where(bare, 0, 1 - left), bare.astype(float)]
        design = np.column_stack(columns) * self.weights[:, None]
        # Divided by its size, so that readings of any unit are as well conditioned.
        size = float(np.abs(self.values).max()) or 1.0
        target = self.values / size * self.weights
        found = np.linalg.lstsq(design, target, rcond=None)[0]
        rest = target - design @ found
        return Course(float(found[0]) * size, float(found[1]) * size, float(rest @ rest) * size**2)

    def level_squares(self) -> float:
        """The sum of squares about one level, the bare rows at their own if they have it."""
        total = 0.0
        bare = np.isinf(self.counts)
        for rows in (bare, ~bare) if self.own_level else (np.ones_like(bare),):
            if rows.any():
                w, y = self.weights[rows] ** 2, self.values[rows]
                mean = float(w @ y / w.sum())
                total += float(w @ (y - mean) ** 2)
        return total


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
            return self.data.course(math.exp(x)).squares - limit

        low = high = None
        if first > 0:
            low = math.exp(crossing(over, float(self.grid[first - 1]), float(self.grid[first])))
        if last < self.grid.size - 1:
            high = math.exp(crossing(over, float(self.grid[last]), float(self.grid[last + 1])))
        return low, high


def profile_of(data: Data) -> Profile:
    """Follow the profile of `data` with two different finite counts or more."""
    finite = np.unique(data.counts[np.isfinite(data.counts)])
    shortest = float(np.diff(finite).min()) * _SHORTEST
    longest = float(finite[-1] - finite[0]) * _LONGEST
    grid = np.linspace(math.log(shortest), math.log(longest), _POINTS)

    def squares(x: float) -> float:
        return data.course(math.exp(x)).squares

    found = np.array([squares(float(x)) for x in grid])
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
