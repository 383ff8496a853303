"""The special functions of scipy, imported here alone: what loads them is seen in one place.

A third of the time of this import goes into parts of numpy that nothing here uses. To hide these
from scipy meanwhile would change names of another library under whatever else runs.
"""

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
