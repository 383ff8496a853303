"""The special functions of scipy, imported here alone. Pure; any thread.

On its import scipy.special copies every name that numpy has, and so loads numpy's tools for tests
and for Fortran, which take a third of that import and which nobody here uses. They are kept out of
sight meanwhile; whoever asks numpy for them later gets them.
"""

from __future__ import annotations

import numpy as np

_UNUSED = [name for name in ("f2py", "testing") if name not in vars(np)]

for _name in _UNUSED:
    setattr(np, _name, None)
try:
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
finally:
    for _name in _UNUSED:
        # Who imported one of them has put it there.
        if vars(np)[_name] is None:
            delattr(np, _name)

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
