"""What the order of readings makes of a drift: the false difference it leaves between two sides.

A drift b t + q t^2 over the steps t of the order, counted from 0, shifts the mean of side A less
that of side B by b (mean t of A - mean t of B) + q (the same of t^2). Taking the sides in turn
forth and back (ABBA) leaves nothing of a steady drift; ABBABAAB leaves nothing of its bending
either. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple


class OrderBias(NamedTuple):
    """A less B where neither differs, by the steady part of the drift and by its bending."""

    linear: float
    quadratic: float


def order_bias(
    order: Sequence[str], slope_per_step: float, quadratic_per_step2: float = 0.0
) -> OrderBias:
    """The false difference of two sides read in `order`; the side that comes first is A.

    Drifts are in the unit of the readings per step, and per step squared. Raises ValueError where
    the order does not hold two sides.
    """
    sides = list(dict.fromkeys(order))
    if len(sides) != 2:
        raise ValueError(f"an order of two sides is wanted, got {len(sides)}: {sides}")
    at = [[t for t, side in enumerate(order) if side == name] for name in sides]
    first, second = ([math.fsum(t**p for t in ts) / len(ts) for p in (1, 2)] for ts in at)
    return OrderBias(
        slope_per_step * (first[0] - second[0]), quadratic_per_step2 * (first[1] - second[1])
    )
