"""How long an instrument has to warm up: readings of one surface over the time since switch-on.

The readings are put on y = a + b exp(-t/T), the approach of one body to its final temperature,
by least squares. Where that curve explains no more than chance would, there is no drift to wait
for. Else the instrument is warm when what is still to come of the drift is a third of the scatter
of single readings, which it then widens by a twentieth (the root of 1 + 1/9), when by no curve that
the readings allow (profile of the sum of squares over T, one-sided 97.5 %) more than half of it is
to come, and when the readings from there on, eight at least, show no slope by themselves (Student's
t, 5 %). Where that never comes about the answer is "not reached".

Of 600 drawn studies a figure, of 30 to 90 readings, drifts of 3 to 10 scatters and constants of 5
to 15 minutes, 0 to 3 in 100 gave a time by which more than half was left (by 95 % up to 7, of 90
readings). That is of all studies. A study that is too short for its drift mostly says "not
reached", and where it names a time, that one is often too short: of 40 readings and a constant of
10 minutes 11 to 30 of 100 times were, and below 30 readings no time is named. Over constants of 3
to 20 minutes and studies of 40 to 90 readings 3 of 100 times were, whatever constant they found.

All this rests on one exponential. A second one in the readings is sought (F test over pairs of time
constants at 5 %, found in 1 to 4 of 100 studies without one), and where it is found no time is
named. One of 3 scatters and 15 minutes beside 5 and 3 is found in 10, 18 and 29 of 100 studies of
40, 60 and 90 readings, one of 4 and 20 beside 10 and 2 in 66 of 40 and 99 of 90; where it is not
found, the time named is mostly too short. So it is told, too, by how much the level may still have
moved from the time named to the last reading, by the slope of these readings alone (95 %, missed by
0 to 6 of 100 of these). A third, a half, eight, thirty, ten minutes: our own choice. Pure and
deterministic; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from acquire.analysis.laws.special import fdtrc
from acquire.analysis.laws.student import t_quantile, two_sided_p
from acquire.analysis.samples.summary import checked, summarise

FEWEST = 12
"""Readings below which three figures of a curve are not to be told from scatter."""
SHORTEST_S = 600.0
"""A shorter study says nothing, also where nothing moved: lamps take minutes (common practice)."""
FEWEST_OF_TIME = 30
"""Readings below which a drift that is shown is given no end: of the few times that 20 readings of
it named, a third to all were too short."""
TAIL = 8
"""Readings that must show the plateau."""
REMAINDER = 1 / 3
"""Of the scatter of single readings: what of the drift may still be to come."""
SURELY = 1 / 2
"""As `REMAINDER`, by all curves that the readings allow."""
ALLOWED = 0.975
"""One-sided, of the profile; of all studies 95 % and more have less than that to come."""
SIGNIFICANT = 0.01
"""For the curve: its time constant is sought, so that chance finds more than by a fixed one."""
SLOPE = 0.05
SECOND = 0.05
"""For a second exponential beside the first."""
_PAIRED = 24
"""Time constants whose pairs are tried, from half the mean gap to three times the span."""
_UNSEEN = ((60, 3.0), (30, 4.0), (20, 5.0), (FEWEST, 8.0))
"""From so many readings on, a drift of so many scatters is shown in 86 to 100 of 100 drawn studies
of a reading a minute, with constants of 5 and 10 minutes (150 studies a figure). Of half the size
only half or fewer are."""
_TRIED = 240
_NARROWED, _AMONG = 13, 10
"""Steps between the two time constants around the best, and how many are tried in each: to one part
in a hundred million, beyond which sums of squares do not differ."""
_APART = 1e-6
"""Of 1: two exponentials nearer to one another are not told apart by rounded arithmetic."""


class Curve(NamedTuple):
    """y = `end` + `size` exp(-t / `constant_s`), and the scatter about it."""

    end: float
    size: float
    constant_s: float
    sd: float

    def ahead(self, at_s: float) -> float:
        """What of the drift is still to come at a time, without sign."""
        return abs(self.size) * math.exp(-at_s / self.constant_s)


@dataclass(frozen=True, slots=True)
class WarmUp:
    """What a warm-up study found, times in seconds since switch-on.

    `sd` is the scatter of single readings, about the curve where there is one. `curve` is None
    where no drift is shown. `ready_s` is None where the study did not last until the instrument was
    warm; `warm_up_s` is that time in whole minutes, to be put into a policy. `rest` is by how much
    the level may still have moved from then on (95 %), by these readings alone. `p_second` is the
    probability by chance of what a second exponential explains. Both are None where the steps of
    the display hide the scatter, or there is nothing to say them of. `lacking` says why nothing can
    be told; empty where it can.
    """

    readings: int
    first_s: float
    last_s: float
    sd: float
    curve: Curve | None
    ready_s: float | None
    lacking: str = ""
    rest: float | None = None
    p_second: float | None = None

    @property
    def has_second(self) -> bool:
        """Whether one exponential does not describe the readings, so that no time is named."""
        return self.p_second is not None and self.p_second <= SECOND

    @property
    def unseen(self) -> float:
        """So many times the scatter a drift has to be to be shown by most such studies."""
        return next((size for fewest, size in _UNSEEN if self.readings >= fewest), math.inf)

    @property
    def is_reached(self) -> bool:
        return self.ready_s is not None

    @property
    def warm_up_s(self) -> int | None:
        if self.ready_s is None:
            return None
        return 0 if self.curve is None else math.ceil(self.ready_s / 60 - 1e-9) * 60


def warm_up_of(
    times_s: Sequence[float], values: Sequence[float], resolution: float = 0.0
) -> WarmUp:
    """Judge readings by the seconds since switch-on at which they were taken.

    Raises ValueError for lists of different length or figures that are not finite.
    """
    if len(times_s) != len(values):
        raise ValueError(f"as many times as values: {len(times_s)} for {len(values)}")
    pairs = sorted((checked(t), checked(v)) for t, v in zip(times_s, values, strict=True))
    n = len(pairs)
    t = np.array([a for a, _ in pairs], dtype=float)
    y = np.array([b for _, b in pairs], dtype=float)
    first, last = (float(t[0]), float(t[-1])) if n else (0.0, 0.0)
    plain = summarise(y.tolist()).sd or 0.0
    if n < FEWEST:
        return WarmUp(n, first, last, plain, None, None, f"{n} readings; {FEWEST} are wanted")
    if len(set(t.tolist())) < FEWEST:
        return WarmUp(n, first, last, plain, None, None, "its readings came at too few moments")
    if last - first < SHORTEST_S:
        why = f"it lasted {last - first:.0f} s; {SHORTEST_S:.0f} s or more are wanted"
        return WarmUp(n, first, last, plain, None, None, why)
    if plain == 0:
        # Nothing moved by as much as the display shows.
        return WarmUp(n, first, last, 0.0, None, first)
    curve = _fit(t, y)
    if not _is_shown(curve, y):
        return WarmUp(n, first, last, plain, None, first)
    if n < FEWEST_OF_TIME:
        why = f"{n} readings do not tell when the drift ends; {FEWEST_OF_TIME} are wanted"
        return WarmUp(n, first, last, curve.sd, curve, None, why)
    # Steps of the display that hide the scatter make patterns of their own about any curve.
    is_fine = curve.sd >= resolution / 2
    second = _p_second(curve, t, y) if is_fine else None
    if second is not None and second <= SECOND:
        return WarmUp(n, first, last, curve.sd, curve, None, p_second=second)
    ready = _ready(curve, max(curve.sd, resolution / math.sqrt(12)), t, y)
    rest = None if ready is None or not is_fine else _rest(t[t >= ready], y[t >= ready])
    return WarmUp(n, first, last, curve.sd, curve, ready, rest=rest, p_second=second)


def _fit(t: NDArray[np.float64], y: NDArray[np.float64]) -> Curve:
    """The best curve; its time constant from a sixth of the first gap to thirty times the span."""
    logs = _constants(t)
    for _ in range(_NARROWED):
        best = int(np.argmin(_lines(t, y, logs)[0]))
        logs = np.linspace(logs[max(0, best - 1)], logs[min(len(logs) - 1, best + 1)], _AMONG)
    found = logs.mean(keepdims=True)
    (rest,), (slope,), (level,) = _lines(t, y, found)
    constant = math.exp(float(found[0]))
    size = float(slope) * math.exp(min(300.0, float(t[0]) / constant))
    sd = math.sqrt(max(0.0, float(rest)) / (len(t) - 3))
    return Curve(float(level), size, constant, sd)


def _lines(
    t: NDArray[np.float64], y: NDArray[np.float64], logs: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """By the logarithm of each time constant the straight line of y over exp(-t/T).

    The sum of squares about it, its slope (the size at the first reading) and its end.
    """
    e = np.exp(-(t - t[0]) / np.exp(logs)[:, None])
    middle = e.mean(axis=1)
    x = e - middle[:, None]
    from_mean = y - y.mean()
    size = (x * x).sum(axis=1)
    slopes = np.divide(x @ from_mean, size, out=np.zeros_like(size), where=size > 0)
    squares = ((from_mean - slopes[:, None] * x) ** 2).sum(axis=1)
    return squares, slopes, y.mean() - slopes * middle


def _constants(t: NDArray[np.float64]) -> NDArray[np.float64]:
    """The logarithms of the time constants that are tried."""
    span = float(t[-1] - t[0])
    return np.linspace(math.log(span / len(t) / 6), math.log(30 * span), _TRIED)


def _latest(curve: Curve, allowed: float, t: NDArray[np.float64], y: NDArray[np.float64]) -> float:
    """When no curve that the readings allow has more than `allowed` to come."""
    n = len(t)
    logs = _constants(t)
    squares, slopes, _ = _lines(t, y, logs)
    limit = curve.sd**2 * (n - 3 + t_quantile(ALLOWED, n - 3) ** 2)
    sizes = np.maximum(np.abs(slopes), allowed)
    # Sizes are at the first reading.
    ends = t[0] + np.exp(logs) * np.log(sizes / allowed)
    best = curve.constant_s * math.log(max(1.0, abs(curve.size) / allowed))
    return max(best, float(ends[squares <= limit].max(initial=0.0)))


def _is_shown(curve: Curve, y: NDArray[np.float64]) -> bool:
    n = len(y)
    whole = float(((y - y.mean()) ** 2).sum())
    rest = curve.sd**2 * (n - 3)
    if rest <= 1e-18 * whole:
        return True
    return float(fdtrc(2, n - 3, max(0.0, whole - rest) / 2 / (rest / (n - 3)))) <= SIGNIFICANT


def _ready(
    curve: Curve, scatter: float, t: NDArray[np.float64], y: NDArray[np.float64]
) -> float | None:
    """When the drift is over by the curves, or later, where the readings still show a slope."""
    if scatter <= 0:
        return None
    over = curve.constant_s * math.log(max(1.0, abs(curve.size) / (REMAINDER * scatter)))
    over = max(over, _latest(curve, SURELY * scatter, t, y))
    start = int(np.searchsorted(t, over))
    for index in range(start, len(t) - TAIL + 1):
        if _slope_p(t[index:], y[index:]) > SLOPE:
            return over if index == start else float(t[index])
    return None


def _p_second(curve: Curve, t: NDArray[np.float64], y: NDArray[np.float64]) -> float | None:
    """The chance that scatter alone makes two exponentials so much better than one."""
    n = len(t)
    gap = float(t[-1] - t[0]) / n
    constants = np.exp(np.linspace(math.log(gap / 2), math.log(3 * gap * n), _PAIRED))[:, None]
    x = np.exp(-(t - t[0]) / constants)
    x -= x.mean(axis=1, keepdims=True)
    x /= np.sqrt((x**2).sum(axis=1, keepdims=True))
    along, alike = x @ (y - y.mean()), x @ x.T
    # What the second explains once the first is taken out of it.
    apart = 1 - alike**2
    own = np.divide(
        (along[None, :] - alike * along[:, None]) ** 2, apart, out=np.zeros_like(apart),
        where=apart > _APART,
    )  # fmt: skip
    one = curve.sd**2 * (n - 3)
    whole = float(((y - y.mean()) ** 2).sum())
    two = min(one, whole - float((along[:, None] ** 2 + own).max()))
    if two <= 1e-12 * whole:
        return None
    return float(fdtrc(2, n - 5, (one - two) / 2 / (two / (n - 5))))


class _Slope(NamedTuple):
    """A line through readings, by its rise over them all, the standard error of it and its nu."""

    rise: float
    error: float
    nu: int


def _slope(t: NDArray[np.float64], y: NDArray[np.float64]) -> _Slope:
    x, from_mean, nu = t - t.mean(), y - y.mean(), len(t) - 2
    sxx = float(x @ x)
    if sxx <= 0 or nu < 1 or not from_mean.any():
        return _Slope(0.0, 0.0, nu)
    slope = float(x @ from_mean) / sxx
    left = from_mean - slope * x
    span = float(t[-1] - t[0])
    return _Slope(slope * span, span * math.sqrt(float(left @ left) / nu / sxx), nu)


def _rest(t: NDArray[np.float64], y: NDArray[np.float64]) -> float:
    """How far the level may have moved over these readings, one-sided 95 %."""
    found = _slope(t, y)
    return abs(found.rise) + t_quantile(1 - SLOPE, found.nu) * found.error


def _slope_p(t: NDArray[np.float64], y: NDArray[np.float64]) -> float:
    """The two-sided probability of such a slope by chance; 1 where nothing moves."""
    found = _slope(t, y)
    if found.rise == 0:
        return 1.0
    return two_sided_p(found.rise / found.error, found.nu) if found.error > 0 else 0.0
