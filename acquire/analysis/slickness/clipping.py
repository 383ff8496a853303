"""A peak that the gauge's range cut off: the force stands at one value, which nothing exceeds.

Where the range is not known, only its trace tells: the largest value of all, many times in a row.
Noise of half a step puts several samples of a slow peak in a row on one value, too, so that the
chance of it is counted. A gauge that sends seldom has few samples on a peak: two or three that are
equal, where the force moves by many steps from one to the next, leave it in doubt. Pure; any
thread.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_FEWEST = 5
_LEAST_STEPS = 0.25
"""Of a step of the digits: less noise than this leaves slow forces on one value for any time."""
_NEAR_NOISES = 4.0
_CHANCE = 1e-4
"""Of a sound pull to be taken for one that was cut off."""


_MOVES = 6.0
"""Steps from one sample to the next on the rise: of 5,766 sound peaks on generated traces 11 had
equal samples on top then, and of 175 that were cut off and taken 128."""


def stood_at_end(force_n: Floats, range_n: float) -> int:
    """How many samples stood at the end of a range that is known."""
    return int(np.count_nonzero(force_n >= range_n * (1 - 1e-9)))


def stood_on_top(force_n: Floats, most_n: float, noise_n: float) -> int:
    """How many samples in a row stood on `most_n` where that is no chance; 0 where it may be one.

    `force_n` are the samples of a candidate as they came, `most_n` the largest of the whole trace,
    `noise_n` that of single samples with the rounding to steps. A sample rounds to one value with
    the chance erf(step / (sqrt(8) sd)) at most, if the force stays in the middle of the step and
    only the noise of `sd` moves it, so that r of them do in a row at some place of n with n times
    its r-th power at most.
    """
    if not force_n.size or float(force_n.max()) < most_n:
        return 0
    run = _longest_run(force_n == most_n)
    step = _step_of(force_n)
    if run < _FEWEST or not step:
        return 0
    # Rounding adds step^2 / 12 to the square of the noise.
    sd = math.sqrt(max(0.0, noise_n**2 - step**2 / 12))
    if sd < _LEAST_STEPS * step:
        return 0
    near = int(np.count_nonzero(force_n >= most_n - step - _NEAR_NOISES * sd))
    chance = near * math.erf(step / (math.sqrt(8) * sd)) ** run
    return run if chance < _CHANCE else 0


def equal_on_top(trace_n: Floats, span: slice, rise_n: float) -> int:
    """How many samples in a row of `span` are equal on the top of the trace; 0 where it may be so.

    `trace_n` are all samples as they came, `rise_n` is what the force gained from one to the next
    on its way to the peak.
    """
    run = _longest_run(trace_n[span] == trace_n.max())
    step = _step_of(trace_n)
    return run if run > 1 and step and rise_n >= _MOVES * step else 0


def _longest_run(is_on: NDArray[np.bool_]) -> int:
    edges = np.flatnonzero(np.diff(np.concatenate(([False], is_on, [False]))))
    return int((edges[1::2] - edges[::2]).max()) if edges.size else 0


def _step_of(force_n: Floats) -> float:
    """The step of the digits; 0 where the samples do not tell it."""
    steps = np.unique(force_n[:4096])
    return float(np.diff(steps).min()) if steps.size > 1 else 0.0
