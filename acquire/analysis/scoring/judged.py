"""Points for what people judged: the median of the raters, and how much that hangs on who rated.

A step has its points; of several raters the middle one counts, of an even number the lower of the
two in the middle, for steps have an order and no distances. How raters differ is told by drawing
raters anew, as many as there were, out of those who rated (B. Efron, Annals of Statistics 7 (1979)
1, from memory). The same raters are drawn for all products, so that a strict one lowers all alike.
One rater says nothing of how raters differ; that is said and no interval is made up. Pure and
deterministic.
"""

from __future__ import annotations

import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from acquire.analysis.scoring.errors import source

Floats = NDArray[np.float64]
Steps = Mapping[str, int]
"""By rater: the step given, from 1."""


@dataclass(frozen=True, slots=True)
class Rated:
    """One product: raw points (before bounds and weight) and their draws; steps in words."""

    points: float
    draws: Floats
    raters: int
    words: str


def rated(
    products: Mapping[str, Sequence[Steps]], points: Sequence[float], key: str, draws: int
) -> dict[str, Rated]:
    """Each product's points; `products` has for each the steps given to each of its zones.

    A scale about products has one entry for each. Products without a rating are left out.
    """
    names = sorted({name for zones in products.values() for steps in zones for name in steps})
    picked = source(key, "raters").integers(0, max(1, len(names)), (draws, max(1, len(names))))
    found = {}
    for product, zones in products.items():
        told = [steps for steps in zones if steps]
        if not told:
            continue
        of_zones = [_zone(steps, points, names, picked) for steps in told]
        raters = len({name for steps in told for name in steps})
        middle = statistics.fmean(statistics.median_low(steps.values()) for steps in told)
        found[product] = Rated(
            statistics.fmean(value for value, _ in of_zones),
            np.mean([drawn for _, drawn in of_zones], axis=0),
            raters,
            f"step {middle:.3g} of {len(points)}, median of {raters} "
            f"rater{'' if raters == 1 else 's'}"
            + (f", mean of {len(told)} zones" if len(told) > 1 else ""),
        )
    return found


def _zone(
    steps: Steps, points: Sequence[float], names: Sequence[str], picked: NDArray[np.int64]
) -> tuple[float, Floats]:
    """The middle one of the points of one zone, and the same with raters drawn anew."""
    value = statistics.median_low(points[step - 1] for step in steps.values())
    by_rater = np.array([points[steps[n] - 1] if n in steps else np.nan for n in names])
    if len(steps) == 1 or len(set(by_rater[~np.isnan(by_rater)])) == 1:
        return float(value), np.full(len(picked), float(value))
    taken = by_rater[picked]
    none = np.isnan(taken).all(axis=1)
    # Where none of those who rated this zone was drawn, nothing was drawn anew.
    taken[none] = value
    # Sorted, what is not there comes last.
    taken.sort(axis=1)
    middle = (np.isfinite(taken).sum(axis=1) - 1) // 2
    return float(value), taken[np.arange(len(taken)), middle]
