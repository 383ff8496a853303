"""How high a first peak was that lies between two samples, and under the noise.

A sled breaks away at any moment between the last sample on the rise and the next one, so that the
highest sample lies below the peak by up to what the force gains from one to the next, in every pull
to the same side: an effect that is known is corrected (JCGM 100:2008, 3.2.4 and 6.3.1). Along the
line of the rise every place in between is equally likely (ibid. 4.3.7 and F.2.4.5, a rectangle),
until the samples on both sides say more. So every place, and every course of the slip behind it,
is fitted and weighed by how well the samples agree with it (Bayes' rule with even odds beforehand;
JCGM 101:2008, 6.2 and 6.3, on assigning a density to what is known): the mean of all is the peak,
their spread its uncertainty.

The rise is a line, or bent where the sled creeps before it slips. The slip is the way to the
kinetic force of a mass on a spring (critically damped: it begins at the speed of the rise, and the
force still rises a little), or an exponential, which begins at full speed. Pure; any thread.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_TOP = 0.03
_TOP_NOISES = 3.0
"""Of the peak, or of the noise: so far below it both sides are taken."""
_MOST = 600
_BLOCKS = 24
"""Means of so many samples are as good as all of them, and quicker."""
_AHEAD = 4
_BEHIND = 3
"""Samples at least, as far as the rise and the trace have them."""
_ONSET = 0.3
"""Of the peak: below it a rise may not be one yet."""
_PLACES = 16
_SLIPS = 6
_FASTEST = 0.05
"""Of the time from one sample to the next: a slip that is over at once."""
_BENDS = 0.05
_SLIPS_OFF = 0.1
"""Of the distance from the top: so well a rise by hand, and a slip, keep to their course."""
_RISES_OFF = 0.02
_LEAST = 5e-4
"""Of what the force gains from one sample to the next, and of the peak: likewise at the top."""
_FREE = 6
"""Figures that are fitted, its place included: more samples than these tell how well it fits."""


class Top(NamedTuple):
    """A peak of `force_n` with the standard uncertainty `u_n`, both in newton.

    `between_n` of it lie above the force at the highest sample; 0 where they lie so dense that it
    is nothing beside the noise. `place` is the last sample ahead of it.
    """

    force_n: float
    u_n: float
    between_n: float
    place: int


class _Part(NamedTuple):
    """Samples around the peak, or means of `each` of them: `top` is the place of the highest."""

    force_n: Floats
    first: int
    each: int
    top: int
    rise_n: float


def top_of(force_n: Floats, smooth_n: Floats, top: int, end: int, noise_n: float) -> Top | None:
    """The peak near sample `top`, which is the highest of `smooth_n`; None if too few are there.

    `force_n` are the samples above zero with the noise `noise_n`, `smooth_n` running means of
    them. `end` is where the force has come back near the kinetic level.
    """
    part = _part(force_n, smooth_n, top, end, noise_n)
    if part is None:
        return None
    height, n = float(part.force_n[part.top]), part.force_n.size
    noise = noise_n / part.each**0.5
    x = np.arange(n, dtype=float)
    # The course of a hand and of a slip is no exact law: the farther from the top, the less.
    course = np.where(x > part.top, _SLIPS_OFF, _BENDS) * np.maximum(0.0, height - part.force_n)
    least = math.hypot(noise, _LEAST * height, _RISES_OFF * part.rise_n)
    weight = 1 / np.hypot(course, least)
    # The largest of noisy samples may lie farther from the peak than one sample.
    lost = math.ceil(2 * noise / part.rise_n) if part.rise_n > 0 else n
    reach = max(1, n // 8, min(n // 3, lost))
    low, high = max(part.top - reach, 1), min(part.top + reach, n - 2)
    places = low + (high - low) * (np.arange(_PLACES) + 0.5) / _PLACES
    slips = np.geomspace(_FASTEST, 2.0 * (n - 1 - part.top), _SLIPS)
    fits = _fitted(part.force_n - height, weight, places, slips)
    best = float(fits.squares.min())
    if not math.isfinite(best):
        return None
    off = max(1.0, best / (n - _FREE)) if n >= _FREE + 4 else 1.0
    odds = np.exp(-0.5 * (fits.squares - best) / off)
    odds /= odds.sum()
    mean = float((odds * fits.peak_n).sum())
    spread = float((odds * ((fits.peak_n - mean) ** 2 + fits.u2_n * off)).sum())
    sampled = mean if part.each > 1 else _highest(fits, odds)
    place = float((odds.sum(axis=(0, 1, 3)) * places).sum())
    return Top(
        height + mean,
        math.sqrt(spread),
        max(0.0, mean - sampled),
        part.first + int((place + 0.5) * part.each - 0.5),
    )


def _part(force_n: Floats, smooth_n: Floats, top: int, end: int, noise_n: float) -> _Part | None:
    """What lies near the top on both sides; None where that is no rise and no slip."""
    least = _near(float(smooth_n[top]), noise_n)
    first = max(0, top - _MOST)
    onset = _behind_last(smooth_n[first:top] < _ONSET * smooth_n[top])
    left = max(first + onset, min(near_top(smooth_n, top, noise_n), top - _AHEAD))
    last = min(end + _BEHIND, top + _MOST, force_n.size - 1)
    low = np.flatnonzero(smooth_n[top : last + 1] < least)
    right = top + (int(low[0]) if low.size else last - top)
    each = max(1, -(-(right - left + 1) // _BLOCKS))
    right = min(max(right, top + (_BEHIND + 1) * each - 1), force_n.size - 1)
    count = (right - left + 1) // each
    part = force_n[left : left + count * each].reshape(count, each).mean(axis=1)
    place = min(count - 1, (top - left) // each)
    if place < 2 or count - place < _BEHIND:
        return None
    steps = min(place, _AHEAD)
    rise = max(0.0, float(part[place] - part[place - steps]) / steps)
    return _Part(part, left, each, place, rise)


def near_top(smooth_n: Floats, top: int, noise_n: float) -> int:
    """From which sample on the rise to the one at `top` is near it."""
    first = max(0, top - _MOST)
    return first + _behind_last(smooth_n[first:top] < _near(float(smooth_n[top]), noise_n))


def _near(height_n: float, noise_n: float) -> float:
    return height_n - max(_TOP * height_n, _TOP_NOISES * noise_n)


def _behind_last(where: NDArray[np.bool_]) -> int:
    """The place behind the last that is true; 0 where none is."""
    true = np.flatnonzero(where)
    return int(true[-1]) + 1 if true.size else 0


class _Fits(NamedTuple):
    """Of each slip's kind, rise, place and speed: one array of four axes in that order.

    `squares` are sums of weighted squares, infinite where the fit is no rise with a slip behind
    it; `peak_n` its largest force and `u2_n` the variance of that. `free` are the four figures of
    each, on the last axis, and `design` what they are multiplied by to give the forces; it has no
    axis of the rises.
    """

    squares: Floats
    peak_n: Floats
    u2_n: Floats
    free: Floats
    design: Floats


def _highest(fits: _Fits, odds: Floats) -> float:
    """The largest force at a sample, by all courses as they are weighed."""
    forces = (fits.free[..., None, :] @ fits.design[:, None])[..., 0, :]
    return float((odds * forces.max(axis=-1)).sum())


def _fitted(force_n: Floats, weight: Floats, places: Floats, slips: Floats) -> _Fits:
    """Least squares for every course. Forces and `weight` of n samples, `places` among them.

    Four figures are free: the force at the place, its rate there, the level that the slip leads
    to, and the bend of the rise, which is 0 for a line.
    """
    n = force_n.size
    after = np.maximum(np.arange(n) - places[:, None], 0.0)[:, None, :]
    before = np.minimum(np.arange(n) - places[:, None], 0.0)[:, None, :]
    over = after / slips[:, None]
    fading = np.exp(-over)
    shape = (2, places.size, slips.size, n)
    held = np.stack((fading, (1 + over) * fading))
    rate = np.stack(np.broadcast_arrays(before, before + after * fading))
    design = np.stack((held, rate, 1 - held, np.broadcast_to(before**2, shape)), axis=-2)
    weighed = design * weight
    normal = weighed @ weighed.swapaxes(-1, -2)
    right = weighed @ (force_n * weight)
    size = np.sqrt(np.maximum(np.diagonal(normal, axis1=-2, axis2=-1), 1e-30))
    normal = normal / size[..., :, None] / size[..., None, :] + 1e-10 * np.eye(4)
    right = right / size
    # Along the second axis: a line, and a bent rise.
    normal = np.stack((normal, normal), axis=1)
    right = np.stack((right, right), axis=1)
    normal[:, 0, ..., 3, :] = normal[:, 0, ..., :, 3] = 0.0
    normal[:, 0, ..., 3, 3], right[:, 0, ..., 3] = 1.0, 0.0
    first = np.zeros_like(right)
    first[..., 0] = 1.0
    both = np.linalg.solve(normal, np.stack((right, first), axis=-1))
    free = both[..., 0] / size[:, None]
    squares = float(((force_n * weight) ** 2).sum()) - (both[..., 0] * right).sum(axis=-1)
    peak, is_slip = _peaks(free, slips, np.floor(places)[:, None])
    variance = both[..., 0, 1] / size[:, None, ..., 0] ** 2
    return _Fits(np.where(is_slip, squares, np.inf), peak, variance, free, design)


def _peaks(free: Floats, slips: Floats, ahead: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """The largest force of each course, and whether it is a rise with a slip behind it.

    `free` are the four figures, `ahead` how many samples there are from the first to the place.
    """
    force, rate, level, bend = (free[..., i] for i in range(4))
    rises = rate > 0
    # A bent rise may have its top ahead of the place.
    fell = ~rises & (bend < 0) & (-rate < -2 * bend * ahead)
    before = force - rate**2 / (4 * np.where(fell, bend, -1.0))
    peak = np.where(fell, before, force)
    # A slip that begins at the speed of the rise has its top behind it.
    pull = rate + (force - level) / slips
    goes_on = rises & (level < force)
    until = np.where(goes_on, rate * slips / np.where(goes_on, pull, 1.0), 0.0)
    later = level + (force - level + pull * until) * np.exp(-until / slips)
    peak[1] = np.where(goes_on, later, peak)[1]
    enough = np.stack(np.broadcast_arrays(ahead >= 2, ahead >= 3))
    return peak, (level < force) & (rises | fell) & enough
