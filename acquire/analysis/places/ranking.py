"""How likely each of several products is to be first, second and so on, given how sure figures are.

A chance says how the true values may lie, given what was read and nothing known beforehand; it is
no decision. Which products are shown to differ is said by their comparisons, and places follow
from these: a product's place runs from one more than are shown to be ahead of it to the last that
is left by those it is shown to be ahead of. With the limits of all pairs together such places hold
all at once at 95 % (D. Al Mohamad, J. Goeman and E. van Zwet, Biometrics 78 (2022) 1324, from
memory). Products whose places overlap are tied.

Closed forms are used where they exist: the normal law or Student's t for two products, a
one-dimensional integral for independent ones. What is correlated otherwise is drawn with a fixed
seed (`acquire.analysis.places.drawing`). Better is higher here; the caller turns the sign where
lower is better. Never NaN. Pure and deterministic. Any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from acquire.analysis.laws.quadrature import legendre
from acquire.analysis.laws.special import ndtr, ndtri, stdtr, stdtrit
from acquire.analysis.laws.student import t_tail
from acquire.analysis.samples.summary import checked

Floats = NDArray[np.float64]
_PANEL_NODES = 16
# Where the law of another product turns, in its own standard uncertainties.
_TURNS = (-12.0, -8.0, -6.0, -4.5, -3.2, -2.2, -1.3, -0.6, 0.0)
_EDGES = (1e-60, 1e-30, 1e-16, 1e-12, 1e-9, 1e-7, 1e-5, 1e-3, 0.01, 0.1)


@dataclass(frozen=True, slots=True)
class Chances:
    """Chances of k products, in the order given; all parts of 1.

    `by_place[i][r]` is the chance of product i to take place r + 1; where several are equal they
    share the places that they take. `first` is the chance of the first place, `shared_first` the
    part of it in which others are as good. `expected_place` is the mean place, from 1. `error` is
    the largest standard error of a figure, 0 for a closed form, and `method` the sentence that
    says how they were found.
    """

    by_place: tuple[tuple[float, ...], ...]
    shared_first: tuple[float, ...]
    error: float
    method: str

    @property
    def first(self) -> tuple[float, ...]:
        return tuple(row[0] for row in self.by_place)

    @property
    def expected_place(self) -> tuple[float, ...]:
        return tuple(math.fsum((r + 1) * p for r, p in enumerate(row)) for row in self.by_place)


def chance_ahead(difference: float, u: float, nu: float = math.inf) -> float:
    """The chance that the first of two is truly higher, `difference` being first less second.

    `u` is the standard uncertainty of the difference, what both share already gone from it, with
    `nu` degrees of freedom. Two exactly known equal figures give one half: they are a tie. Raises
    ValueError for figures that are not finite, u < 0 or nu <= 0.
    """
    if not (checked(u) >= 0 and nu > 0):
        raise ValueError(f"u of 0 or more and degrees of freedom above 0, got {u} and {nu}")
    if checked(difference) == 0:
        return 0.5
    if u == 0:
        return 1.0 if difference > 0 else 0.0
    return t_tail(-difference / u, nu)


def independent_chances(
    values: Sequence[float], us: Sequence[float], nus: Sequence[float] | None = None
) -> Chances:
    """Chances of independent products with standard uncertainties `us` > 0.

    With degrees of freedom in `nus` each value follows Student's t, scaled and shifted (JCGM
    101:2008, 6.4.9), else the normal law. Raises ValueError without two products, for lists of
    different length, or for a u that is not above zero: `chances_of_known` is for these.
    """
    k = len(values)
    nus = [math.inf] * k if nus is None else nus
    if k < 2 or len(us) != k or len(nus) != k:
        raise ValueError(f"2 or more products with a u and nu each, got {k}, {len(us)}, {len(nus)}")
    if not all(checked(u) > 0 for u in us) or not all(nu > 0 for nu in nus):
        raise ValueError(
            f"standard uncertainties and degrees of freedom above zero, got {us}, {nus}"
        )
    # From one value on, so that a large common level costs no digits.
    shifted = [checked(v) - values[0] for v in values]
    if k == 2 and all(math.isinf(nu) for nu in nus):
        ahead = chance_ahead(shifted[0] - shifted[1], math.hypot(*us))
        return Chances(
            ((ahead, 1 - ahead), (1 - ahead, ahead)),
            (0.0, 0.0),
            0.0,
            "Two independent products: the normal law of their difference.",
        )
    rows = [_places_of(i, shifted, us, nus) for i in range(k)]
    return Chances(
        tuple(rows),
        (0.0,) * k,
        0.0,
        f"{k} independent products: the integral over each one's own law of how many of the others "
        "lie above.",
    )


def chances_of_known(values: Sequence[float]) -> Chances:
    """Chances where every value is known exactly: certainties, and equal values share places.

    Raises ValueError without any product.
    """
    if not values:
        raise ValueError("no product, so there is no first one")
    rows, shared = [], []
    for value in values:
        above = sum(checked(v) > value for v in values)
        alike = sum(v == value for v in values)
        rows.append(
            tuple(1 / alike if above <= r < above + alike else 0.0 for r in range(len(values)))
        )
        shared.append(1 / alike if above == 0 and alike > 1 else 0.0)
    return Chances(tuple(rows), tuple(shared), 0.0, "All values are known exactly.")


@dataclass(frozen=True, slots=True)
class Places:
    """From which to which place each product may stand, from 1; `groups` are the ties at the top.

    `is_tied[i]` says whether product i shares its places with any other.
    """

    best: tuple[int, ...]
    worst: tuple[int, ...]

    @property
    def is_tied(self) -> tuple[bool, ...]:
        return tuple(
            any(
                i != j and self.best[j] <= self.worst[i] and self.best[i] <= self.worst[j]
                for j in range(len(self.best))
            )
            for i in range(len(self.best))
        )

    @property
    def tied_first(self) -> tuple[int, ...]:
        """Every product that nothing is shown to be ahead of, counted from 0."""
        return tuple(i for i, place in enumerate(self.best) if place == 1)

    def text(self, index: int) -> str:
        """The place as it is printed: ``1``, or ``1 to 3, tied``."""
        best, worst = self.best[index], self.worst[index]
        span = f"{best}" if best == worst else f"{best} to {worst}"
        return f"{span}, tied" if self.is_tied[index] else span


def places(products: int, ahead: Sequence[tuple[int, int]]) -> Places:
    """Places of so many products; each of `ahead` is (better, worse), counted from 0.

    Raises ValueError where two products are each ahead of the other, or ahead of themselves.
    """
    shown = set(ahead)
    for better, worse in shown:
        if better == worse or (worse, better) in shown:
            raise ValueError(f"product {better} and product {worse} cannot both be ahead")
        if not (0 <= better < products and 0 <= worse < products):
            raise ValueError(
                f"products are counted from 0 to {products - 1}, got {better}, {worse}"
            )
    return Places(
        tuple(1 + sum(worse == i for _, worse in shown) for i in range(products)),
        tuple(products - sum(better == i for better, _ in shown) for i in range(products)),
    )


def _places_of(
    i: int, values: Sequence[float], us: Sequence[float], nus: Sequence[float]
) -> tuple[float, ...]:
    """The chances of product i to take each place, by the integral over its own law."""
    others = [j for j in range(len(values)) if j != i]
    # Panels by probability of its own law, with an edge wherever the law of another one turns.
    turns = [values[j] + sign * z * us[j] for j in others for z in _TURNS for sign in (1, -1)]
    at = np.array([(turn - values[i]) / us[i] for turn in turns])
    low = np.concatenate([np.minimum(_below(at, nus[i]), _above(at, nus[i])), _EDGES])
    edges = np.unique(np.clip(np.concatenate([[0.0], low, [0.5]]), 0.0, 0.5))
    x, w = legendre(_PANEL_NODES)
    middle, reach = (edges[1:] + edges[:-1]) / 2, (edges[1:] - edges[:-1]) / 2
    tail = (middle[:, None] + reach[:, None] * x).ravel()
    weight = (reach[:, None] * w).ravel()
    keep = tail > 0
    tail, weight = tail[keep], weight[keep]
    # The upper half by symmetry: tails keep their digits on the low side alone.
    own = _quantile(tail, nus[i]) * us[i]
    x_all = np.concatenate([own, -own]) + values[i]
    weight = np.concatenate([weight, weight])
    # How many of the others lie above: one product after the other.
    counts = np.zeros((len(values), x_all.size))
    counts[0] = 1.0
    for j in others:
        # Far out on heavy tails the ratio may be beyond all numbers, which is as far out as any.
        with np.errstate(over="ignore"):
            z = (x_all - values[j]) / us[j]
        above, below = _above(z, nus[j]), _below(z, nus[j])
        counts[1:] = counts[1:] * below + counts[:-1] * above
        counts[0] *= below
    return tuple(float(p) for p in np.clip(counts @ weight, 0.0, 1.0))


def _below(z: Floats, nu: float) -> Floats:
    return np.asarray(ndtr(z) if math.isinf(nu) else stdtr(nu, z))


def _above(z: Floats, nu: float) -> Floats:
    return _below(-z, nu)


def _quantile(p: Floats, nu: float) -> Floats:
    return np.asarray(ndtri(p) if math.isinf(nu) else stdtrit(nu, p))
