"""The special functions of scipy, imported here alone: what loads them is seen in one place."""

from __future__ import annotations

from scipy.special import (
    bdtrc,
    betaincinv,
    chdtrc,
    chdtri,
    digamma,
    fdtrc,
    fdtri,
    gammainccinv,
    gammaincinv,
    gammaln,
    ndtr,
    ndtri,
    polygamma,
    stdtr,
    stdtrit,
)

__all__ = [
    "bdtrc",
    "betaincinv",
    "chdtrc",
    "chdtri",
    "digamma",
    "fdtrc",
    "fdtri",
    "gammainccinv",
    "gammaincinv",
    "gammaln",
    "ndtr",
    "ndtri",
    "polygamma",
    "stdtr",
    "stdtrit",
]
