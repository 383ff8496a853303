"""What a comparison can see: power, smallest visible difference, replicates needed.

A comparison shows a difference when |D| exceeds c times its standard uncertainty u, where u comes
from an estimate with nu degrees of freedom. With a true difference delta u the statistic follows
the noncentral t law; its probability beyond c is the exact mean of a normal probability over
the law of the estimate. Source: definition of the noncentral t; held against published power
values in the reference cases. Pure and deterministic. Any thread.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from scipy.special import ndtr, ndtri

from acquire.analysis.quadrature import scatter_nodes
from acquire.analysis.root import crossing
from acquire.analysis.student import t_factor


def power(delta: float, critical_value: float, df: float) -> float:
    """P(|T| > c) for a true difference of `delta` standard uncertainties, both tails counted."""
    r, weight = scatter_nodes(df)
    limit = critical_value * r
    return float(weight @ (ndtr(delta - limit) + ndtr(-delta - limit)))


def smallest_difference(critical_value: float, df: float, wanted_power: float = 0.8) -> float:
    """The true difference, in standard uncertainties, shown with probability `wanted_power`."""
    if power(0.0, critical_value, df) >= wanted_power:
        return 0.0
    high = critical_value + float(ndtri(wanted_power)) + 1
    while power(high, critical_value, df) < wanted_power:
        high *= 2
    return crossing(lambda d: power(d, critical_value, df) - wanted_power, 0.0, high, rel=1e-11)


def t_test_power(d: float, n: float, *, groups: int, alpha: float = 0.05) -> float:
    """Power of the two-sided t test for a difference of `d` standard deviations.

    `groups` is 1 for one sample of n (or n pairs, d in standard deviations of their differences)
    and 2 for two samples of n each.
    """
    df = groups * (n - 1)
    return power(d * math.sqrt(n / groups), t_factor(df, 1 - alpha), df)


def smallest_t_test_difference(
    n: float, *, groups: int = 2, alpha: float = 0.05, wanted_power: float = 0.8
) -> float:
    """The difference, in standard deviations, that the two-sided t test shows with that power."""
    df = groups * (n - 1)
    return smallest_difference(t_factor(df, 1 - alpha), df, wanted_power) * math.sqrt(groups / n)


class Replicates(NamedTuple):
    """Readings needed in each group; `exact` is the real number at which the power is met."""

    exact: float
    per_group: int
    power: float
    power_with_one_less: float | None


def replicates_needed(
    d: float, *, alpha: float = 0.05, wanted_power: float = 0.8, groups: int = 2
) -> Replicates:
    """How many readings a group show a difference of `d` standard deviations.

    At least two readings a group are needed to know the scatter at all. Raises ValueError where
    `d` is not positive or `wanted_power` not between 0 and 1: no number of readings shows that.
    """
    if not d > 0:
        raise ValueError(f"a difference above zero is wanted, got {d}")
    if not 0 < wanted_power < 1:
        raise ValueError(f"a power between 0 and 1 is wanted, got {wanted_power}")

    def reached(n: float) -> float:
        return t_test_power(d, n, groups=groups, alpha=alpha)

    if reached(2.0) >= wanted_power:
        return Replicates(2.0, 2, reached(2.0), None)
    high = 4.0
    while reached(high) < wanted_power:
        high *= 2
    exact = crossing(lambda n: reached(n) - wanted_power, high / 2, high, rel=1e-11)
    whole = math.ceil(exact - 1e-9)
    return Replicates(exact, whole, reached(whole), reached(whole - 1) if whole > 2 else None)
