"""Several treatments against one control at once: Dunnett's critical value and p-values.

All comparisons share the control and the estimate of the scatter, so they are correlated, and a
limit made for each alone would be passed too easily by the best of them. The correlation of two
comparisons is lambda_i lambda_j, where lambda_i^2 is the control's share of the variance of
comparison i; given the control's error z and the scatter s the comparisons are independent, and

    P(all |T_i| <= c) = E_s E_z prod_i [ Phi((lambda_i z + c s)/q_i) - Phi((lambda_i z - c s)/q_i) ]

with q_i = sqrt(1 - lambda_i^2). Source: C. W. Dunnett, J. Amer. Statist. Assoc. 50 (1955) 1096,
and Biometrics 20 (1964) 482 for unequal numbers (both from memory); the values are held against
the 1955 tables in the reference cases. Where the comparisons have scatters of their own, each is
taken at its own effective degrees of freedom with this correlation (M. Hasler and L. A. Hothorn,
Biometrical J. 50 (2008) 793, from memory).

Pure and deterministic. Any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from acquire.analysis.laws.quadrature import normal_nodes, scatter_nodes, to_power
from acquire.analysis.laws.root import crossing
from acquire.analysis.laws.special import ndtr
from acquire.analysis.laws.student import t_quantile, t_tail, two_sided_p

# A control that carries almost all of the variance makes the integrand a step. Less correlation
# than there is makes the limit wider, never narrower.
_MOST_LAMBDA = 0.98
# The larger the control's share, the steeper the integrand over its error: (lambda up to, nodes).
# With these the limits agree with those of four times as many nodes to 3e-5, and to 1e-6 from
# four degrees of freedom on.
_NODES = ((0.75, 48), (0.9, 96), (_MOST_LAMBDA, 200))


def loadings(own: Sequence[float], control: float) -> tuple[float, ...]:
    """lambda_i for variances `own[i]` of the treated sides and `control` of the shared side."""
    return tuple(
        math.sqrt(control / (variance + control)) if control > 0 else 0.0 for variance in own
    )


def equal_loadings(treatments: int) -> tuple[float, ...]:
    """lambda of each comparison where all sides are alike; empty for one, which has no family."""
    return (math.sqrt(0.5),) * treatments if treatments > 1 else ()


@lru_cache(maxsize=1024)
def critical(
    lambdas: tuple[float, ...], df: float, alpha: float = 0.05, *, two_sided: bool = True
) -> float:
    """The limit that |T| (or T) of all comparisons together exceed with probability `alpha`.

    For one comparison this is Student's t. Raises ValueError for no comparison, or df <= 0.
    """
    if not lambdas:
        raise ValueError("no comparison, so there is no critical value")
    tail = alpha / 2 if two_sided else alpha
    alone = t_quantile(1 - tail, df)
    if len(lambdas) == 1:
        return alone
    # Bonferroni's inequality bounds the limit from above. Both bounds are met in extreme cases,
    # where the integral's last digits must not hide the crossing.
    most = t_quantile(1 - tail / len(lambdas), df)
    return crossing(
        lambda c: _exceeding(c, lambdas, df, two_sided=two_sided) - alpha,
        alone * (1 - 1e-3),
        most * (1 + 1e-3),
        rel=1e-8,
    )


@lru_cache(maxsize=4096)
def p_value(t: float, lambdas: tuple[float, ...], df: float, *, two_sided: bool = True) -> float:
    """The probability that the largest of all comparisons would be beyond `t` by chance alone."""
    if len(lambdas) == 1:
        return two_sided_p(t, df) if two_sided else t_tail(t, df)
    value = _exceeding(abs(t) if two_sided else t, lambdas, df, two_sided=two_sided)
    return min(1.0, max(0.0, value))


def _exceeding(c: float, lambdas: tuple[float, ...], df: float, *, two_sided: bool) -> float:
    """1 - P(all T within c)."""
    r, r_weight = scatter_nodes(df)
    counted = _counted(lambdas)
    steepest = max(value for value, _ in counted)
    z, z_weight = normal_nodes(next(count for most, count in _NODES if steepest <= most))
    inside = np.ones((r.size, z.size))
    for value, times in counted:
        rest = math.sqrt(1 - value * value)
        limit = (c / rest) * r[:, None]
        shift = (value / rest) * z[None, :]
        one = ndtr(limit + shift)
        if two_sided:
            one -= ndtr(shift - limit)
        inside *= to_power(one, times)
    return float(r_weight @ (1 - inside) @ z_weight)


def _counted(lambdas: tuple[float, ...]) -> list[tuple[float, int]]:
    """Each different lambda once with its count: equal numbers of readings are the common case."""
    counts: dict[float, int] = {}
    for value in lambdas:
        capped = min(value, _MOST_LAMBDA)
        counts[capped] = counts.get(capped, 0) + 1
    return list(counts.items())
