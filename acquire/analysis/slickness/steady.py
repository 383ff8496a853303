"""The steady window of a pull: mean, scatter and peak-to-peak of the force while it slides.

By samples, seconds or millimetres alike: whoever calls says which samples are in the window. Pure;
any thread.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from acquire.analysis.slickness.pull import Steady

Floats = NDArray[np.float64]

_SLIPS = 3.0


def steady_of(force_n: Floats, at: Floats, first: float, last: float, noise_n: float) -> Steady:
    """The figures of the samples at `first` <= `at` <= `last`; both bounds belong to the window.

    `force_n` (N) and `at` (s or mm, rising) have one shape. The kinetic coefficient of ASTM D1894,
    D2534 and ISO 8295 is the mean force there over the weight. Raises ValueError for arrays of
    different shape, figures that are not finite, or a window without a sample.
    """
    if force_n.shape != at.shape or force_n.ndim != 1:
        raise ValueError(f"one force a place is wanted, got {force_n.shape} for {at.shape}")
    if not (np.isfinite(force_n).all() and np.isfinite(at).all()):
        raise ValueError("finite forces and places are wanted")
    # Places that are multiples of a step are not exact; a billionth of the step is no difference.
    room = 1e-9 * max(1.0, abs(last))
    inside = force_n[(at >= first - room) & (at <= last + room)]
    if not inside.size:
        raise ValueError(f"no sample from {first:g} to {last:g}: nothing to take a mean of")
    mean = float(inside.mean())
    sd = float(inside.std(ddof=1)) if inside.size > 1 else None
    spread = float(inside.max() - inside.min())
    if spread == 0:
        mean, sd = float(inside[0]), (0.0 if inside.size > 1 else None)
    slips = sd is not None and sd > _SLIPS * noise_n and spread > 0
    return Steady(first, last, int(inside.size), mean, sd, spread, slips)


def first_peak(force_n: Floats, at: Floats, before: float) -> tuple[float, float]:
    """The largest force at places below `before`, and its place: the peak by a fixed rule.

    For traces whose window is given: a later stick peak inside the window is left out. Raises
    ValueError where no sample lies there.
    """
    ahead = force_n[at < before]
    if not ahead.size:
        raise ValueError(f"no sample before {before:g}: nothing to look for a peak in")
    top = int(np.argmax(ahead))
    return float(ahead[top]), float(at[top])
