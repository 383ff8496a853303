"""How sure it is that a value lies inside limits, and what a guard band buys.

Source: JCGM 106:2012, clauses 7 and 8; normal law. The decision of a check itself is taken by
`acquire.calibration`; these functions say with what risk. Pure. Any thread.
"""

from __future__ import annotations

from typing import NamedTuple

from acquire.analysis.laws.special import ndtr


def conformance_probability(
    value: float, u: float, *, lower: float | None = None, upper: float | None = None
) -> float:
    """The probability that the true value lies between the limits, given `value` and `u` > 0.

    A missing limit does not bind. Raises ValueError where `u` is not positive.
    """
    if not u > 0:
        raise ValueError(f"a standard uncertainty above zero is wanted, got {u}")
    below_upper = 1.0 if upper is None else float(ndtr((upper - value) / u))
    below_lower = 0.0 if lower is None else float(ndtr((lower - value) / u))
    return max(0.0, below_upper - below_lower)


class GuardBand(NamedTuple):
    """`expanded` = k u, `width` = r k u, `acceptance_limit` that much inside the limit.

    `worst_risk` is the probability that an item read exactly at the acceptance limit lies beyond
    the tolerance limit.
    """

    expanded: float
    width: float
    acceptance_limit: float
    worst_risk: float


def guard_band(upper_limit: float, u: float, k: float, r: float) -> GuardBand:
    """Guarded acceptance below `upper_limit` with a band of `r` times the expanded uncertainty.

    Raises ValueError where `u` is not positive.
    """
    if not u > 0:
        raise ValueError(f"a standard uncertainty above zero is wanted, got {u}")
    width = r * k * u
    return GuardBand(k * u, width, upper_limit - width, float(ndtr(-r * k)))
