"""Krippendorff's alpha: how far several raters agree, where not everybody rated everything.

1 - D_o / D_e: the disagreement seen over that expected if the steps that were given had fallen to
the things by chance. 1 where all agree, 0 where chance alone would do as well. Steps have an order
and no distances, so two of them lie as far apart as ratings lie between them (the ordinal metric).
A thing that fewer than two people rated says nothing. Pure; any thread.

Source, from memory, held against its worked example and a library: K. Krippendorff, Content
Analysis (2004), chapter 11, and "Computing Krippendorff's Alpha-Reliability" (2011).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def coincidences(counts: Sequence[Sequence[int]]) -> Floats:
    """How often steps meet in each thing, shape (things, steps, steps).

    ``counts[i][j]`` is how many people gave thing i the step j. A thing with fewer than two ratings
    has zeros. Raises ValueError for counts below zero or things with different steps.
    """
    found = np.asarray(counts, dtype=np.float64)
    if found.ndim != 2 or found.shape[1] < 2 or (found < 0).any():
        raise ValueError("things with the same 2 or more steps, and counts of 0 or more")
    raters = found.sum(axis=1)
    pairs = found[:, :, None] * found[:, None, :] - found[:, :, None] * np.eye(found.shape[1])
    weight = np.where(raters >= 2, 1 / np.maximum(raters - 1, 1), 0.0)
    return np.asarray(pairs * weight[:, None, None], dtype=np.float64)


def alpha_of(together: Floats) -> Floats:
    """Alpha of each matrix of coincidences, shape (..., steps, steps); NaN where none is defined.

    That is where every rating that can be paired is of one step: chance and agreement look alike.
    """
    totals = together.sum(axis=-1)
    n = totals.sum(axis=-1)
    apart = _apart(totals)
    seen = (together * apart).sum(axis=(-2, -1))
    by_chance = (totals[..., :, None] * totals[..., None, :] * apart).sum(axis=(-2, -1))
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(
            np.where(by_chance > 0, 1 - (n - 1) * seen / by_chance, np.nan), dtype=np.float64
        )


def krippendorff_alpha(counts: Sequence[Sequence[int]]) -> float | None:
    """Alpha of ratings on a scale with an order; None where it is not defined."""
    if not counts:
        return None
    alpha = float(alpha_of(coincidences(counts).sum(axis=0)))
    return None if np.isnan(alpha) else alpha


def _apart(totals: Floats) -> Floats:
    """The square of how many ratings lie between two steps, each of both by half."""
    upto = np.cumsum(totals, axis=-1)
    steps = totals.shape[-1]
    low, high = (
        np.minimum.outer(range(steps), range(steps)),
        np.maximum.outer(range(steps), range(steps)),
    )
    between = upto[..., high] - upto[..., low] + totals[..., low]
    halves = (totals[..., low] + totals[..., high]) / 2
    return np.asarray(np.where(low == high, 0.0, (between - halves) ** 2), dtype=np.float64)
