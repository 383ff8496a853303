"""Other views of the scatter of readings: robust, by the range, free of bias, along time.

For a person who doubts the standard deviation. No decision is taken from these. Pure; any thread.
"""

from __future__ import annotations

import itertools
import math
import statistics
from collections.abc import Sequence
from functools import lru_cache

from acquire.analysis.laws.quadrature import legendre
from acquire.analysis.laws.special import gammaln, ndtr


def median_absolute_deviation(values: Sequence[float]) -> float:
    """The median of |x - median|, in the unit of the values. Raises ValueError without values."""
    if not values:
        raise ValueError("no values, so there is no median")
    middle = statistics.median(values)
    return statistics.median(abs(v - middle) for v in values)


def scaled_mad(values: Sequence[float]) -> float:
    """The standard deviation of normal readings with this median absolute deviation.

    The factor is 1 over the upper quartile of the standard normal law, 1.4826.
    """
    return 1.482602218505602 * median_absolute_deviation(values)


def modified_z(values: Sequence[float], index: int) -> float | None:
    """0.6745 (x - median) / MAD of one value; None where more than half of the values are equal.

    Source: Iglewicz and Hoaglin (1993), as in NIST/SEMATECH e-Handbook 1.3.5.17; from memory.
    """
    mad = median_absolute_deviation(values)
    return None if mad == 0 else 0.6745 * (values[index] - statistics.median(values)) / mad


def unbiased_sd(sd: float, n: int) -> float:
    """s / c4: the standard deviation without the bias of few normal readings (ISO 7870-2)."""
    return sd / c4(n)


def c4(n: int) -> float:
    """Mean of s/sigma for n normal readings. Raises ValueError below two."""
    if n < 2:
        raise ValueError(f"at least 2 readings are wanted, got {n}")
    return math.sqrt(2 / (n - 1)) * math.exp(gammaln(n / 2) - gammaln((n - 1) / 2))


@lru_cache(maxsize=128)
def d2(n: int) -> float:
    """Mean range of n standard normal readings: integral of 1 - Phi^n - (1 - Phi)^n."""
    if n < 2:
        raise ValueError(f"at least 2 readings are wanted, got {n}")
    x, weight = legendre(200)
    reach = 9.0
    below = ndtr(reach * x)
    return float(reach * (weight @ (1 - below**n - (1 - below) ** n)))


def sd_from_range(values: Sequence[float]) -> float:
    """(largest - smallest) / d2(n), in the unit of the values."""
    return (max(values) - min(values)) / d2(len(values))


def lag_one_autocorrelation(values: Sequence[float]) -> float | None:
    """Correlation of each reading with the next one; None where all are equal.

    Near 0 for scatter, near 1 where the readings creep. Form as in the NIST StRD univariate sets:
    sum of products of neighbouring deviations over the sum of squared deviations. Raises ValueError
    without values.
    """
    if not values:
        raise ValueError("no values, so there is no autocorrelation")
    mean = math.fsum(values) / len(values)
    deviations = [v - mean for v in values]
    total = math.fsum(d * d for d in deviations)
    if total == 0:
        return None
    return math.fsum(a * b for a, b in itertools.pairwise(deviations)) / total
