"""Fixed nodes and weights for the integrals over a normal variable and over estimated scatters.

Deterministic: the same question gives the same digits on every run, which sampling would not.
Any thread; the arrays handed out are read-only because they are shared.
"""

from __future__ import annotations

import itertools
import math
from functools import lru_cache

import numpy as np
from numpy.polynomial.legendre import leggauss
from numpy.typing import NDArray

from acquire.analysis.laws.special import gammainccinv, gammaincinv, gammaln

Floats = NDArray[np.float64]

# Panels of the integral over the scatter end at these tail probabilities of its own law. Few
# degrees of freedom spread it over decades towards zero, and panels by probability follow that;
# from `_ONE_PANEL_FROM` on its law is smooth enough for one.
_TAILS = (1e-14, 1e-7, 1e-3, 0.05, 0.4)
_PANEL_NODES = 12
_ONE_PANEL_FROM = 4.0
_ONE_PANEL_NODES = 40
# What goes from 0 to 1 within a decade of the scatter needs a panel for each, towards zero.
_FINE_BELOW = (1e-14, 1e-7, 1e-6, 1e-5, 1e-4, 1e-3, 0.01, 0.1, 0.4)
_FINE_ABOVE = (1e-14, 1e-4, 0.05, 0.4)
_FINE_NODES = 24
_FINE_UP_TO = 20.0
_NORMAL_REACH = 8.5
"""Mass of the normal law beyond this: 2e-17."""
_SURE_FROM = 1e6
"""From this many degrees of freedom on the scatter counts as known: it errs by less than 1e-3."""
RUNS = 2048
"""Points at which several scatters are taken together: they err by some 0.001 in a probability."""


@lru_cache(maxsize=16)
def legendre(count: int) -> tuple[Floats, Floats]:
    """Gauss-Legendre nodes and weights on [-1, 1]."""
    x, w = leggauss(count)
    return _shared(x), _shared(w)


@lru_cache(maxsize=8)
def normal_nodes(count: int) -> tuple[Floats, Floats]:
    """`count` nodes z and weights for the mean of a function of a standard normal variable."""
    x, w = legendre(count)
    z = _NORMAL_REACH * x
    weight = w * np.exp(-0.5 * z * z)
    return _shared(z), _shared(weight / weight.sum())


@lru_cache(maxsize=256)
def scatter_nodes(df: float, *, fine: bool = False) -> tuple[Floats, Floats]:
    """Nodes r and weights for the mean of a function of an estimated scatter, r = s/sigma.

    nu r^2 follows chi-squared with nu = `df`, which may be fractional or infinite (then r = 1).
    `fine` is for functions that go from 0 to 1 within a small part of the law; from 20 degrees of
    freedom on the law itself is no wider. Raises ValueError where df is not positive.
    """
    if not df > 0:
        raise ValueError(f"degrees of freedom must be positive, got {df}")
    if df >= _SURE_FROM:
        one = np.ones(1)
        return _shared(one), _shared(one.copy())
    half = df / 2
    below, above, count = _panels(df, fine=fine)
    squares = np.concatenate([gammaincinv(half, below), gammainccinv(half, above[::-1])]) / half
    edges = np.sqrt(squares)
    x, w = legendre(count)
    middle = (edges[1:] + edges[:-1]) / 2
    reach = (edges[1:] - edges[:-1]) / 2
    r = (middle[:, None] + reach[:, None] * x).ravel()
    # Density of r: 2 half^half / Gamma(half) r^(df-1) exp(-half r^2). Its constant is left to the
    # normalisation below, up to the part that would overflow.
    log_density = (df - 1) * np.log(r) - half * r * r + half * np.log(half) - gammaln(half)
    weight = (reach[:, None] * w).ravel() * np.exp(log_density)
    return _shared(r), _shared(weight / weight.sum())


def _panels(df: float, *, fine: bool) -> tuple[Floats, Floats, int]:
    """The tail probabilities at which panels end, from either side, and the nodes of each panel."""
    if df >= (_FINE_UP_TO if fine else _ONE_PANEL_FROM):
        one = np.array(_TAILS[:1])
        return one, one, _ONE_PANEL_NODES
    if fine:
        count = _FINE_NODES if df < _ONE_PANEL_FROM else _PANEL_NODES
        return np.array(_FINE_BELOW), np.array(_FINE_ABOVE), count
    tails = np.array(_TAILS)
    return tails, tails, _PANEL_NODES


@lru_cache(maxsize=512)
def joint_squares(df: float, line: int) -> Floats:
    """r^2 of the scatter of one of several lines in `RUNS` runs that weigh the same.

    Lines of different number, from 0 on, are independent of each other. The runs are R. D.
    Richtmyer's points, the multiples of roots of primes less their whole numbers, folded so that a
    mean has no jump where they wrap around (both from memory). Shape (RUNS,). Raises ValueError
    where df is not positive.
    """
    if not df > 0:
        raise ValueError(f"degrees of freedom must be positive, got {df}")
    if df >= _SURE_FROM:
        return _shared(np.ones(RUNS))
    half = df / 2
    return _shared(gammaincinv(half, joint_parts(line)) / half)


def joint_parts(line: int) -> Floats:
    """The probabilities, 0 to 1, that one of several lines has in the runs of `joint_squares`."""
    part = (np.arange(1, RUNS + 1) * math.sqrt(_prime(line)) + 0.5) % 1
    folded: Floats = np.abs(2 * part - 1)
    return folded


@lru_cache(maxsize=512)
def _prime(place: int) -> int:
    """The prime of that place, 2 at place 0."""
    if place == 0:
        return 2
    after = _prime(place - 1) + 1
    return next(
        n for n in itertools.count(after) if all(n % d for d in range(2, math.isqrt(n) + 1))
    )


def _shared(values: Floats) -> Floats:
    values.setflags(write=False)
    return values


def to_power(base: Floats, exponent: int) -> Floats:
    """The base to a whole power above zero, by squares.

    What is below the smallest number costs the general power a hundred times as much, and most of a
    high power of probabilities is there.
    """
    power = base if exponent & 1 else None
    while exponent := exponent >> 1:
        base = base * base
        if exponent & 1:
            power = base if power is None else power * base
    assert power is not None, "the highest bit of a whole number above zero is set"
    return power
