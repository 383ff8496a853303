"""Chances of places where products have errors in common, by drawing with a fixed seed.

What all products share alike (the control's own error in every net change, the certificate of the
piece) moves all of them together and changes no place; what they share unlike (a check that closes
the stage of one product and opens that of another) does. Each product has lines of its own, drawn
by the normal law or, where they are estimated from few readings, by Student's t (JCGM 101:2008,
6.4.9), and all have errors with one covariance, drawn by the normal law. The same question gives
the same digits on every run: the seed is fixed and is part of the answer.

Better is higher. Pure and deterministic for one version of numpy. Any thread.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from acquire.analysis.places.ranking import Chances
from acquire.analysis.samples.summary import checked

SEED = 20_816
DRAWS = 100_000
"""A chance is then good to 0.16 %, its standard error where it is one half."""

Floats = NDArray[np.float64]
Own = Sequence[tuple[float, float]]
"""Lines of one product alone: standard uncertainty and degrees of freedom."""


def drawn_chances(
    values: Sequence[float],
    own: Sequence[Own],
    common: Sequence[Sequence[float]] | None = None,
    *,
    step: float = 0.0,
    draws: int = DRAWS,
    seed: int = SEED,
) -> Chances:
    """Chances of k products: `values`, lines `own` of each, and the k x k covariance `common`.

    With `step` above zero, in the unit of the values, draws are rounded to it before they are
    ranked, as points are that are given in whole steps: then products may truly be equal, and
    share their places. Raises ValueError for lists of different length, a covariance that is none,
    or figures that are not finite.
    """
    (found,) = drawn_chances_of((values,), own, common, step=step, draws=draws, seed=seed)
    return found


def drawn_chances_of(
    several: Sequence[Sequence[float]],
    own: Sequence[Own],
    common: Sequence[Sequence[float]] | None = None,
    *,
    step: float = 0.0,
    draws: int = DRAWS,
    seed: int = SEED,
) -> tuple[Chances, ...]:
    """The same for `several` sets of values with one set of errors, drawn once for all of them.

    Raises as `drawn_chances`.
    """
    k = len(own)
    if k < 2 or any(len(values) != k for values in several):
        raise ValueError(
            f"2 or more products with their lines, got {[len(v) for v in several]} and {k}"
        )
    if not (step >= 0 and draws >= 1):
        raise ValueError(f"a step of 0 or more and 1 draw or more, got {step} and {draws}")
    # One row a product, so that two of them are held against each other along the memory.
    errors = np.zeros((k, draws))
    source = np.random.default_rng(seed)
    for i, lines in enumerate(own):
        for u, nu in lines:
            if not (checked(u) >= 0 and nu > 0):
                raise ValueError(f"u of 0 or more and degrees of freedom above 0, got {u}, {nu}")
            errors[i] += u * (
                source.standard_normal(draws) if math.isinf(nu) else source.standard_t(nu, draws)
            )
    if common is not None:
        errors += _root(np.array(common, float), k) @ source.standard_normal((draws, k)).T
    found = []
    for values in several:
        drawn = errors + np.array([checked(v) for v in values])[:, None]
        found.append(counted(np.round(drawn / step) if step > 0 else drawn, seed))
    return tuple(found)


def _root(covariance: Floats, k: int) -> Floats:
    """A root of a covariance, also of one that has no full rank."""
    if covariance.shape != (k, k) or not np.isfinite(covariance).all():
        raise ValueError(f"a finite covariance of {k} by {k} is wanted, got {covariance.shape}")
    largest = float(np.abs(covariance).max())
    if float(np.abs(covariance - covariance.T).max()) > 1e-9 * largest:
        raise ValueError("a covariance is the same on both sides of its diagonal; this one is not")
    values, vectors = np.linalg.eigh((covariance + covariance.T) / 2)
    if float(values.min()) < -1e-6 * max(largest, 1e-300):
        raise ValueError("no errors have this covariance: a variance would be below zero")
    return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0)))


def counted(drawn: Floats, seed: int) -> Chances:
    """Chances out of draws, k products by so many."""
    k, draws = drawn.shape
    above = np.zeros((k, draws), np.intp)
    alike = np.ones((k, draws), np.intp)
    for i, j in itertools.combinations(range(k), 2):
        above[i] += drawn[j] > drawn[i]
        above[j] += drawn[i] > drawn[j]
        equal = drawn[i] == drawn[j]
        if equal.any():
            alike[i] += equal
            alike[j] += equal
    by_place = np.zeros((k, k))
    shared = np.zeros(k)
    for i in range(k):
        for number in range(1, int(alike[i].max()) + 1):
            # Equal ones share the places that they take together.
            times = np.bincount(above[i][alike[i] == number], minlength=k)
            for first in np.flatnonzero(times):
                by_place[i, first : first + number] += times[first] / number
        tied = (above[i] == 0) & (alike[i] > 1)
        shared[i] = float((tied / alike[i]).sum())
    chances = by_place / draws
    error = float(np.sqrt(chances * (1 - chances) / draws).max())
    return Chances(
        tuple(tuple(float(p) for p in row) for row in chances),
        tuple(float(p) for p in shared / draws),
        error,
        f"{draws} draws of all errors together, those in common once (seed {seed}); a chance is "
        f"good to {100 * error:.2f} % (one standard error).",
    )
