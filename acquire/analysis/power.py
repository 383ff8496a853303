"""Power of the t test, its smallest visible difference, and the replicates it needs.

The t test is a decision by one line of scatter, so these are those of `acquire.analysis.reach`, by
which results and plans decide, for a budget of one line: there the statistic follows the noncentral
t law. Held against published power values in the reference cases. Pure and deterministic. Any
thread.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from acquire.analysis.reach import Reach, reach_of
from acquire.analysis.root import crossing
from acquire.analysis.uncertainty import Distribution, Kind, Term


def t_test(n: float, groups: int) -> Reach:
    """The two-sided t test of n readings a group, in standard deviations of single readings.

    `groups` is 1 for one sample of n (or n pairs, in standard deviations of their differences) and
    2 for two samples of n each.
    """
    share = math.sqrt(groups / n)
    return reach_of(
        [Term("scatter", Kind.A, 1.0, groups * (n - 1), share, Distribution.NORMAL, "")]
    )


def t_test_power(d: float, n: float, *, groups: int, alpha: float = 0.05) -> float:
    """Power of the two-sided t test for a difference of `d` standard deviations; see `t_test`."""
    return t_test(n, groups).power(d, alpha)


def smallest_t_test_difference(
    n: float, *, groups: int = 2, alpha: float = 0.05, wanted_power: float = 0.8
) -> float:
    """The difference, in standard deviations, that the two-sided t test shows with that power."""
    return t_test(n, groups).smallest(alpha, wanted_power)


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
