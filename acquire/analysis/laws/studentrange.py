"""The studentized range: how far apart the outermost of several equal means come by chance.

Of k means with the same standard error the largest less the smallest, over the estimated standard
error, follows

    P(Q <= q) = E_s [ k E_z [ (Phi(z) - Phi(z - q s))^(k-1) ] ],

z being the standard error of the largest mean and s the estimated scatter over the true one, with
nu degrees of freedom. Source: J. W. Tukey, The Problem of Multiple Comparisons (1953), and the
integral of H. O. Hartley, Biometrika 32 (1942) 334 (both from memory); held against
scipy.stats.studentized_range in the tests, and for two means against Student's t, sqrt(2) times
which it is. Written out because scipy.stats takes longer to import than all results of a trial.

Pure and deterministic. Any thread.
"""

from __future__ import annotations

import math
from functools import lru_cache

from acquire.analysis.laws.quadrature import normal_nodes, scatter_nodes, to_power
from acquire.analysis.laws.root import crossing
from acquire.analysis.laws.special import ndtr
from acquire.analysis.laws.student import t_quantile, two_sided_p

_NODES, _FINE_NODES, _FINE_FROM = 96, 240, 13
MOST = 100
"""More means than anybody compares. Up to here, and for an alpha of 1e-5 or more, the probability
is good to 1e-5 of itself from one degree of freedom on (a plain sum over 1,500 scatters and 1,500
errors of the largest mean, at 1, 1.5, 2, 3, 4, 6, 10, 20 and 40 degrees of freedom)."""

LEAST_ALPHA = 1e-5


@lru_cache(maxsize=1024)
def range_critical(means: int, df: float, alpha: float = 0.05) -> float:
    """The q that the studentized range of `means` equal means exceeds with probability `alpha`.

    `df` may be fractional or infinite. Raises ValueError below two or above `MOST` means, for
    df <= 0, or outside 1e-5 <= alpha < 1: further out the integral is not sure.
    """
    if not LEAST_ALPHA <= alpha < 1:
        raise ValueError(f"a probability from {LEAST_ALPHA:g} to 1 is wanted, got {alpha}")
    _checked(means)
    alone = math.sqrt(2) * -t_quantile(alpha / 2, df)
    if means == 2:
        return alone
    # Of all pairs together the limit is at least that of one, and at most Bonferroni's.
    most = math.sqrt(2) * -t_quantile(alpha / 2 / math.comb(means, 2), df)

    def over(q: float) -> float:
        return math.log(max(range_p(q, means, df), 1e-300) / alpha)

    # Where both bounds are nearly met the last digits of the integral must not hide the crossing.
    low, high = alone * (1 - 1e-3), most * (1 + 1e-3)
    while over(low) < 0:
        low *= 0.9
    while over(high) > 0:
        high *= 1.1
    return crossing(over, low, high, rel=1e-9)


@lru_cache(maxsize=4096)
def range_p(q: float, means: int, df: float) -> float:
    """The probability that the studentized range of `means` equal means is larger than `q`, 0 to 1.

    Raises ValueError as `range_critical`.
    """
    _checked(means)
    if not df > 0:
        raise ValueError(f"degrees of freedom must be positive, got {df}")
    if q <= 0:
        return 1.0
    if means == 2:
        return two_sided_p(q / math.sqrt(2), df)
    return min(1.0, max(0.0, _exceeding(q, means, df)))


def _checked(means: int) -> None:
    if not 2 <= means <= MOST:
        raise ValueError(f"2 to {MOST} means are wanted, got {means}")


def _exceeding(q: float, means: int, df: float) -> float:
    """1 - P(Q <= q)."""
    # With few degrees of freedom limits lie far out in the law of the scatter, and of many means
    # the integrand is a step.
    r, r_weight = scatter_nodes(df, fine=True)
    z, z_weight = normal_nodes(_NODES if means < _FINE_FROM else _FINE_NODES)
    # Phi(z) - Phi(z - w) from the side on which its digits are kept.
    within = ndtr(z)[None, :] - ndtr(z[None, :] - q * r[:, None])
    inside = means * to_power(within, means - 1)
    return float(1 - r_weight @ inside @ z_weight)
