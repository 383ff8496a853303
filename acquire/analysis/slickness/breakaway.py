"""The breakaway peak: the first peak at the start of motion, and how high it was under the noise.

A sled that breaks free slips until the line pulls with no more than the kinetic force, so the first
time that the force rises above the kinetic level and comes back to it is the start of motion; a
wiggle of the hand below that level, or one that does not come back, is none. A later stick peak may
exceed it and is not it. ASTM D1894 and ISO 8295 take the first peak for the static coefficient.

The largest sample lies above the force by what the noise adds, and below it by what the rise gains
between two samples: the rise and the slip are fitted to both sides of the peak
(`acquire.analysis.slickness.cusp`). Pure; any thread.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from acquire.analysis.slickness.cusp import near_top, top_of

Floats = NDArray[np.float64]

_BACK = 0.3
"""Of the height above the kinetic level: from here on the force counts as come back to it."""
_NOISES = 4.0
_FALLS = 4.0
"""Standard deviations that the force has fallen by at least behind a peak."""


class Peak(NamedTuple):
    """A breakaway peak in newton above zero, at `place` of the samples that were given.

    `sample_n` is the largest sample there, `u_n` the standard uncertainty of `force_n` by noise
    and sampling alone. `between_n` of it lie above the force at any sample: what the line gained
    before it broke off, None where too few samples are on the rise to tell. `rise_n` is what the
    force gained from one sample to the next before it.
    """

    force_n: float
    u_n: float
    place: int
    sample_n: float
    between_n: float | None
    rise_n: float


def first_excursion(
    force_n: Floats, level_n: float, noise_n: float, least_drop: float, window: int, mean_n: float
) -> tuple[int, int] | None:
    """Where the force is first above `level_n` and where it has come back; None if it never does.

    Indices of `force_n`, the second behind the peak. An excursion lower than `least_drop` of the
    level, or than four times the noise, is none. Nor is one that is only of the noise: a slow rise
    lies near the level for many samples, and the largest of them is far above the least. So the
    mean of `window` samples around the peak lies above that of as many from where the force has
    come back by `_FALLS` times what two such means differ by, each with the noise `mean_n`. Of a
    fast rise what lies below the level is left out of the first mean, which then is of fewer.
    """
    least = max(least_drop * level_n, _NOISES * noise_n)
    sums = np.concatenate(([0.0], np.cumsum(force_n)))

    def means(begin: NDArray[np.intp], stop: NDArray[np.intp]) -> tuple[Floats, Floats]:
        stop = np.minimum(stop, force_n.size)
        begin = np.clip(begin, 0, stop - 1)
        count = stop - begin
        return (sums[stop] - sums[begin]) / count, mean_n**2 * window / count

    edges = np.flatnonzero(np.diff(np.concatenate(([False], force_n > level_n, [False]))))
    for start, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        # One sample more: there the force is below the level, if the trace goes on.
        part = force_n[start : end + 1]
        highest = np.maximum.accumulate(part)
        back = (highest - level_n >= least) & (part <= level_n + _BACK * (highest - level_n))
        places = np.flatnonzero(back)
        if not places.size:
            continue
        tops = np.maximum.accumulate(np.where(part == highest, np.arange(part.size), 0))[places]
        around = start + tops - window // 2
        top_n, top_u2 = means(np.maximum(around, start), around + window)
        back_n, back_u2 = means(start + places, start + places + window)
        fallen = top_n - back_n >= _FALLS * np.sqrt(top_u2 + back_u2)
        if fallen.any():
            return start, start + int(places[int(np.argmax(fallen))])
    return None


def peak_of(
    force_n: Floats, smooth_n: Floats, smoothed: int, start: int, end: int, noise_n: float
) -> Peak:
    """The peak between `start` and `end`, with the rise before `start` as far as it is needed.

    `smooth_n` are the same forces, means of `smoothed` samples each, in which the peak is sought.
    """
    top = start + int(np.argmax(smooth_n[start : end + 1]))
    # A shiver of single samples elsewhere on the rise is not the peak.
    first, last = max(start, top - smoothed), min(end, top + smoothed)
    highest = first + int(np.argmax(force_n[first : last + 1]))
    sample = float(force_n[highest])
    # What the force gains from one sample to the next on its way to the peak. The highest sample
    # may lie behind the peak and be lower for it, so that the step before it counts, too.
    count = max(1, top - near_top(smooth_n, top, noise_n))
    ahead, before = max(0, top - count), max(0, top - 2 * count)
    rise = max(0.0, float(smooth_n[top] - smooth_n[ahead]) / count)
    rise = max(rise, float(smooth_n[ahead] - smooth_n[before]) / count)
    fitted = top_of(force_n, smooth_n, top, end, noise_n)
    if fitted is None:
        return Peak(sample, math.hypot(noise_n, rise / math.sqrt(3)), highest, sample, None, rise)
    # The largest sample is above the force by no more than the noise of many, and below it by no
    # more than a step: where the model says otherwise it does not fit.
    least = sample - 4 * noise_n
    force = min(max(fitted.force_n, least), sample + noise_n + rise)
    between = min(fitted.between_n, force - least)
    place = highest if rise > noise_n else fitted.place
    return Peak(force, fitted.u_n, place, sample, between, rise)
