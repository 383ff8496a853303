"""How sure an effect of pulls is by how the lanes differ in it: each lane left out in turn.

All pulls over one lane are one replicate of an effect, whatever scatters in it: the first pull of
a lane is one first pull, and a lane may have a growth of its own. A surface that was pulled over at
several stages is one lane: what sets its pulls apart goes with it from stage to stage. The effects
are fitted again without each lane, and by how they differ the standard uncertainty is

    u^2 = (G - 1) / G  sum (b_without_g - mean)^2,

with one degree of freedom less than the G lanes that tell of it (the jackknife of J. W. Tukey, Ann.
Math. Statist. 29 (1958) 614, from memory); of first pulls against the rest alone, with as many
pulls in each lane, that is the spread of the lanes' own differences over the root of their number.
Pure; any thread.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

FEWEST = 3
"""Lanes: two of them tell nothing of how lanes differ."""
_SINGULAR = 1e-9
Floats = NDArray[np.float64]


class Apart(NamedTuple):
    """A standard uncertainty and its degrees of freedom."""

    u: float
    nu: float


def lanes_apart(
    lanes: NDArray[np.intp], series: NDArray[np.intp], effects: Floats, y: Floats
) -> tuple[Apart | None, ...]:
    """For each column of `effects` how sure its size is; None with fewer than three lanes for it.

    `lanes` has the lane of each pull and `series` its series, of which a lane may have several;
    `effects` a row a pull, `y` their coefficients. Each series has a height of its own, which is
    taken off here.
    """
    columns = effects.shape[1]
    x, rest = effects.astype(float), y.astype(float)
    for one in np.unique(series).tolist():
        mine = series == one
        x[mine] -= x[mine].mean(axis=0)
        rest[mine] -= rest[mine].mean()
    products, sums = [], []
    for lane in np.unique(lanes).tolist():
        mine = lanes == lane
        products.append(x[mine].T @ x[mine])
        sums.append(x[mine].T @ rest[mine])
    whole, total = sum(products), sum(sums)
    found: list[Apart | None] = []
    for k in range(columns):
        least = _SINGULAR * float(whole[k, k])
        telling = [g for g, p in enumerate(products) if p[k, k] > least]
        if len(telling) < FEWEST:
            found.append(None)
            continue
        left = [_solved(whole - products[g], total - sums[g]) for g in telling]
        if any(b is None for b in left):
            found.append(None)
            continue
        without = np.array([b[k] for b in left if b is not None])
        count = len(telling)
        square = (count - 1) / count * float(((without - without.mean()) ** 2).sum())
        found.append(Apart(math.sqrt(square), float(count - 1)))
    return tuple(found)


def _solved(products: Floats, sums: Floats) -> Floats | None:
    """Effects by normal equations; None where the lanes that are left cannot tell them apart."""
    size = np.sqrt(np.diag(products))
    if not (size > 0).all():
        return None
    scaled = products / np.outer(size, size)
    if float(np.linalg.det(scaled)) < _SINGULAR:
        return None
    return np.asarray(np.linalg.solve(scaled, sums / size) / size, dtype=np.float64)
