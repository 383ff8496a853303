"""Student's t: quantiles, coverage factors and tail probabilities for real degrees of freedom.

Never returns NaN: degrees of freedom that are not positive raise ValueError. Any thread.
"""

from __future__ import annotations

import math

from acquire.analysis.laws.special import ndtr, ndtri, stdtr, stdtrit

# Beyond this many degrees of freedom t and the normal law agree to 1e-8, and the series behind
# `stdtrit` gains nothing.
_NORMAL_FROM = 1e8


def t_quantile(probability: float, df: float) -> float:
    """The value below which Student's t with `df` degrees of freedom falls with `probability`.

    `df` may be fractional or infinite (normal law). Raises ValueError outside 0 < p < 1, df > 0.
    """
    if not 0 < probability < 1:
        raise ValueError(f"a probability between 0 and 1 is wanted, got {probability}")
    if not df > 0:
        raise ValueError(f"degrees of freedom must be positive, got {df}")
    if df >= _NORMAL_FROM:
        return float(ndtri(probability))
    return float(stdtrit(df, probability))


def t_factor(df: float, confidence: float = 0.95) -> float:
    """The two-sided coverage factor t_p(nu) of JCGM 100:2008 (GUM), G.3.2 and table G.2."""
    return t_quantile(0.5 + confidence / 2, df)


def t_tail(t: float, df: float) -> float:
    """P(T > t), precise for small tails because it is taken from the lower side."""
    if not df > 0:
        raise ValueError(f"degrees of freedom must be positive, got {df}")
    if df >= _NORMAL_FROM:
        return float(ndtr(-t))
    return float(stdtr(df, -t))


def two_sided_p(t: float, df: float) -> float:
    """P(|T| > |t|)."""
    return min(1.0, 2 * t_tail(math.fabs(t), df))
