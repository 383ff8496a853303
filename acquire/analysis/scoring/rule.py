"""The rule of one item: from what was found to points.

Linear between floor and ceiling: amount times points a unit, held between the bounds, times the
weight. A change that lies inside its limit earns nothing where the item wants it shown. The rule is
applied to the estimate and in the same way to every draw of it, never to first order: a floor bends
the law of the points, so that a mean and a standard deviation would say too much. Nothing is
rounded. Pure; any thread.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from acquire.model.scorecard import Item

Floats = NDArray[np.float64]


def bounded(item: Item, raw: Floats) -> Floats:
    """Raw points held between floor and ceiling, times the weight."""
    low = -np.inf if item.floor is None else float(item.floor)
    high = np.inf if item.ceiling is None else float(item.ceiling)
    found: Floats = np.clip(raw, low, high) * float(item.weight)
    return found


def earned(item: Item, each: float, amounts: Floats) -> Floats:
    """Points for amounts at `each` points a unit."""
    return bounded(item, each * amounts)


def most(item: Item) -> float:
    """The most that an item can earn; infinite without a ceiling."""
    return np.inf if item.ceiling is None else float(item.ceiling) * float(item.weight)
