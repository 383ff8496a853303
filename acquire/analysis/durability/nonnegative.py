"""Least squares with coefficients of 0 or more.

C. L. Lawson and R. J. Hanson, Solving Least Squares Problems (1974), chapter 23 (from memory).
Written out because importing scipy.optimize takes longer than the estimates it would serve; the
tests hold it against scipy's. Pure; any thread.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def nonnegative_least_squares(design: Floats, target: Floats) -> Floats:
    """The x >= 0 of shape (columns,) that makes the length of `design` x - `target` least."""
    columns = design.shape[1]
    x = np.zeros(columns)
    passive = np.zeros(columns, dtype=bool)
    scale = float(np.abs(design).sum(axis=0).max(initial=0.0)) * float(np.abs(target).max())
    limit = 1e-14 * max(scale, 1e-300) * max(design.shape)
    for _ in range(10 * columns):
        slope = np.where(passive, -np.inf, design.T @ (target - design @ x))
        best = int(np.argmax(slope))
        if passive.all() or slope[best] <= limit:
            break
        passive[best] = True
        while True:
            trial = np.zeros(columns)
            trial[passive] = np.linalg.lstsq(design[:, passive], target, rcond=None)[0]
            below = passive & (trial <= 0)
            if not below.any():
                break
            # As far towards the trial as all stay at 0 or more; what is at 0 then leaves.
            step = float(np.min(x[below] / (x[below] - trial[below])))
            x = x + step * (trial - x)
            passive &= x > 1e-15 * max(1.0, float(np.abs(x).max()))
            x = np.where(passive, x, 0.0)
            if not passive.any():
                break
        x = trial if passive.any() else x
    return np.maximum(x, 0.0)
