"""The points of one history in columns, in order of time.

Ten years of daily checks are thousands of points, so charts work on arrays. Nothing is changed:
points without a usable figure are left out and counted. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from acquire.history.point import Point

Floats = NDArray[np.float64]
Moments = NDArray[np.int64]
Marks = NDArray[np.bool_]

NS_A_DAY = 86_400 * 10**9

# No meter shows such a figure, and products of larger ones would leave the range of a float.
_LARGEST = 1e30


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """`days` counts from the first point; `left_out` is how many points had no finite figure.

    `unit` is "" when there is no point. Arrays are not to be written to.
    """

    at_ns: Moments
    days: Floats
    deviation: Floats
    u: Floats
    checks: tuple[int, ...]
    certificates: tuple[str, ...]
    certified: tuple[float | None, ...]
    u_certified: tuple[float, ...]
    was_readjusted: Marks
    unit: str
    left_out: int

    @classmethod
    def of(cls, points: Iterable[Point]) -> Series:
        """Columns of `points`, sorted by moment; equal moments keep the order they came in.

        Raises ValueError where the units differ: that is no history of one thing.
        """
        given = list(points)
        columns = list(zip(*given, strict=True)) or [()] * len(Point._fields)
        at, deviation, u, checks, certificates, unit, readjusted, certified, u_certified = columns
        units = set(unit)
        if len(units) > 1:
            raise ValueError(f"one unit in a history is wanted, got {', '.join(sorted(units))}")
        moments = np.array(at, np.int64)
        figures, doubts = np.array(deviation, float), np.array(u, float)
        marks = np.array(readjusted, bool)
        usable = (np.abs(figures) <= _LARGEST) & (doubts >= 0) & (doubts <= _LARGEST)
        named: list[tuple[Any, ...]] = [checks, certificates, certified, u_certified]
        is_plain = usable.all() and (moments[1:] >= moments[:-1]).all()
        if not is_plain:
            order = np.argsort(moments, kind="stable")
            marks = _carried(marks[order], usable[order])
            kept = order[usable[order]]
            moments, figures, doubts = moments[kept], figures[kept], doubts[kept]
            picked = kept.tolist()
            named = [tuple([column[i] for i in picked]) for column in named]
        return cls(
            at_ns=moments,
            days=(moments - moments[0]) / NS_A_DAY if len(moments) else np.zeros(0),
            deviation=figures,
            u=doubts,
            checks=named[0],
            certificates=named[1],
            certified=named[2],
            u_certified=named[3],
            was_readjusted=marks,
            unit=next(iter(units), ""),
            left_out=len(given) - len(moments),
        )

    def __len__(self) -> int:
        return len(self.at_ns)

    def part(self, start: int, stop: int) -> Series:
        """Points `start` to `stop` (exclusive), at least one; days count from the first of them."""
        at_ns = self.at_ns[start:stop]
        return Series(
            at_ns=at_ns,
            days=(at_ns - at_ns[0]) / NS_A_DAY,
            deviation=self.deviation[start:stop],
            u=self.u[start:stop],
            checks=self.checks[start:stop],
            certificates=self.certificates[start:stop],
            certified=self.certified[start:stop],
            u_certified=self.u_certified[start:stop],
            was_readjusted=self.was_readjusted[start:stop],
            unit=self.unit,
            left_out=0,
        )

    def moment(self, day: float) -> int:
        """The moment `day` days after the first point, ns of UTC."""
        return int(self.at_ns[0]) + round(day * NS_A_DAY)


def stretches(marks: Marks) -> tuple[Moments, Moments]:
    """First and last place of every unbroken stretch of marks."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], marks, [False]))))
    return edges[::2], edges[1::2] - 1


def _carried(marks: Marks, usable: Marks) -> Marks:
    """Marks of usable points; a re-adjustment before one left out counts for the next."""
    seen = np.concatenate(([0], np.cumsum(marks)))
    ends = np.flatnonzero(usable) + 1
    return np.diff(np.concatenate(([0], seen[ends]))) > 0
