"""Where a history is cut: only figures of the same meter against the same value share limits.

A segment ends where the meter was re-adjusted, because its offset is another one from there on. A
new certificate alone steps the deviation by the difference of the certified values, a step the
meter did not make. So a segment goes on over a new certificate only if nothing else changed:
the meter was not re-adjusted, both values are known, and they agree within their expanded
uncertainties (E_n of at most 1, ISO/IEC 17043:2010, B.3.1.3, k = 2; from memory). Earlier
deviations are then stated against the newest certificate of the segment: what was read stays, the
value it is compared with is the one in force. Values that do not agree say that the piece itself
changed, or was measured wrongly once; no one line or limit holds for both, and the segment ends.

Nothing is judged here. Pure; any thread.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from itertools import compress, count
from operator import ne

import numpy as np

from acquire.history.series import Floats, Series

_COVERAGE = 2.0


class Cut(StrEnum):
    """Why a segment begins."""

    FIRST = "first"
    READJUSTED = "readjusted"
    CERTIFICATE = "certificate"


@dataclass(frozen=True, slots=True, eq=False)
class Segment:
    """Points `start` to `stop` (exclusive) of a series.

    `deviation` is against the last certificate of the segment; `renewed` are the points from which
    a new certificate that agrees was in force.
    """

    start: int
    stop: int
    cut: Cut
    deviation: Floats
    renewed: tuple[int, ...]

    def __len__(self) -> int:
        return self.stop - self.start


def segments(series: Series) -> tuple[Segment, ...]:
    """The segments in order; none for a series without points."""
    total = len(series)
    if total == 0:
        return ()
    readjusted = np.flatnonzero(series.was_readjusted[1:]) + 1
    cuts = [(0, Cut.FIRST)]
    renewed: list[int] = []
    for i in sorted({*readjusted.tolist(), *_changes(series)}):
        if series.was_readjusted[i]:
            cuts.append((i, Cut.READJUSTED))
        elif _agrees(series, i - 1, i):
            renewed.append(i)
        else:
            cuts.append((i, Cut.CERTIFICATE))
    ends = [start for start, _ in cuts[1:]] + [total]
    return tuple(
        _segment(series, start, stop, cut, tuple(i for i in renewed if start < i < stop))
        for (start, cut), stop in zip(cuts, ends, strict=True)
    )


def _changes(series: Series) -> list[int]:
    """The points whose certificate is not that of the point before."""
    names = series.certificates
    if len(set(names)) == 1:
        return []
    return list(compress(count(1), map(ne, names[1:], names)))


def _agrees(series: Series, old: int, new: int) -> bool:
    before, after = series.certified[old], series.certified[new]
    if before is None or after is None:
        return False
    u = math.hypot(series.u_certified[old], series.u_certified[new])
    # A value restated unchanged agrees even where nobody stated its uncertainty.
    return abs(after - before) <= _COVERAGE * u * (1 + 1e-9)


def _segment(series: Series, start: int, stop: int, cut: Cut, renewed: tuple[int, ...]) -> Segment:
    deviation = series.deviation[start:stop]
    if renewed:
        deviation = deviation.copy()
        for i in renewed:
            deviation[: i - start] += _certified(series, i - 1) - _certified(series, i)
    return Segment(start, stop, cut, deviation, renewed)


def _certified(series: Series, i: int) -> float:
    value = series.certified[i]
    assert value is not None, "a segment goes on only over values that are known"
    return value
