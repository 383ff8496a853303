"""The spread of slides at one depth, found by trial: `specimens.depthlaw` is checked by it.

Of many growths the one under which the variances that were found are the likeliest, and of many
between its neighbours again: the likelihood itself and no slope of it. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

_TRIED, _TURNS = 801, 5
_LOW, _HIGH = -9.0, 9.0
"""Powers of ten of the growth of the deepest."""


def tried_spread(
    depths: Sequence[float], spreads: Sequence[float], nus: Sequence[float], square: float
) -> float:
    """The standard deviation at a depth with this `square`; `depths` in natural logarithms.

    `spreads` are the standard deviations at the depths, of `nus` degrees of freedom each.
    """
    g, s2, nu = (np.asarray(x, float) for x in (depths, spreads, nus))
    g, s2 = g**2, s2**2
    low, high, growth = _LOW, _HIGH, 0.0
    for _ in range(_TURNS):
        powers = np.linspace(low, high, _TRIED)
        tried = 10**powers / g.max()
        wider = 1 + np.outer(tried, g)
        level = (s2 / wider) @ nu / nu.sum()
        likely = -(nu * (np.log(level[:, None] * wider) + s2 / (level[:, None] * wider))).sum(
            axis=1
        )
        best = int(np.argmax(likely))
        low, high = powers[max(0, best - 1)], powers[min(_TRIED - 1, best + 1)]
        growth = float(tried[best])
    level_of = float((s2 / (1 + growth * g)) @ nu / nu.sum())
    return math.sqrt(level_of * (1 + growth * square))
