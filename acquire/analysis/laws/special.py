"""The special functions of scipy, imported here alone: what loads them is seen in one place.

As it is loaded scipy.special copies everything that numpy lists, and numpy loads a part of itself
when it is asked for. So what nothing here uses, a compiler of Fortran and a kit for tests, took a
quarter of the time. It is not asked for.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator

import numpy as np

_UNUSED = ("f2py", "testing")


@contextlib.contextmanager
def _unasked(parts: tuple[str, ...]) -> Iterator[None]:
    """Parts of numpy that are not loaded stand for nothing meanwhile, and are there afterwards."""
    aside = [part for part in parts if part not in vars(np)]
    for part in aside:
        setattr(np, part, None)
    try:
        yield
    finally:
        for part in aside:
            if vars(np).get(part, np) is None:
                delattr(np, part)


with _unasked(_UNUSED):
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
