"""A weighted sum of figures that may have errors in common. Pure; any thread."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from acquire.analysis.samples.summary import checked


class Weighted(NamedTuple):
    """The sum with its standard uncertainty, in the unit of the figures times that of weights."""

    total: float
    u: float


def weighted_sum(
    values: Sequence[float],
    us: Sequence[float],
    weights: Sequence[float],
    correlations: Sequence[Sequence[float]] | None = None,
) -> Weighted:
    """sum w x with u^2 = sum w_i w_j u_i u_j r_ij (JCGM 100:2008 (GUM), 5.1.2 and 5.2.2).

    Without `correlations`, a table with ones on its diagonal, errors are independent. Raises
    ValueError for lists of different length, a u below zero, or correlations that no errors have.
    """
    n = len(values)
    if not n or len(us) != n or len(weights) != n:
        raise ValueError(f"as many u and weights as figures, got {n}, {len(us)}, {len(weights)}")
    if any(not checked(u) >= 0 for u in us):
        raise ValueError(f"standard uncertainties of 0 or more are wanted, got {list(us)}")
    total = math.fsum(checked(w) * checked(v) for w, v in zip(weights, values, strict=True))
    parts = [w * u for w, u in zip(weights, us, strict=True)]
    if correlations is None:
        return Weighted(total, math.hypot(*parts))
    if len(correlations) != n or any(len(row) != n for row in correlations):
        raise ValueError(f"a table of correlations of {n} by {n} is wanted")
    if any(not -1 <= r <= 1 for row in correlations for r in row):
        raise ValueError("correlations lie between -1 and 1")
    terms = [a * b * r for a, row in zip(parts, correlations, strict=True)
             for b, r in zip(parts, row, strict=True)]  # fmt: skip
    variance = math.fsum(terms)
    # What cancels exactly may leave a last digit below zero.
    if variance < -1e-9 * math.fsum(abs(t) for t in terms):
        raise ValueError("no errors have these correlations: a variance would be below zero")
    return Weighted(total, math.sqrt(max(0.0, variance)))
