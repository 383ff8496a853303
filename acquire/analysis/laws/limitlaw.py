"""How the limit of a decision varies from run to run, and which true difference passes it.

A run estimates each line of its budget anew, c_i^2 as c_i^2 r_i^2 with nu_i r_i^2 by chi-squared,
and takes the least known line of what it found. So the limit of `acquire.analysis.budget.reach`, in
true standard uncertainties u, is in each run

    L^2 = z^2 sum s_i r_i^2 + max_i (t_i^2 - z^2) s_i r_i^2,    s_i = c_i^2 / u^2,

and a difference of delta u is shown with probability E[Phi(delta - L) + Phi(-delta - L)]. To hold
all lines but one would promise too much: of four means of three readings each the largest of four
estimates sets the limit, not any one. L is independent of the difference, as variances are of
means under the normal law. One estimated line is integrated to the last digits, which gives the
noncentral t law; several together over fixed points, which err by some 0.001 in the probability.

A line of zones of all treatments together is taken no smaller than the two sides that are compared
spread themselves (`acquire.analysis.specimens.zones`, `acquire.analysis.specimens.blocks`). Their
sum of squares, with m degrees of freedom, is a part of that of all, with nu. So r^2 has the factor
max(1, b nu / m): the share b of a part in a whole follows the beta law of m/2 and (nu - m)/2 and is
independent of the whole. Without it 68 to 76 of 100 repeats showed what was promised to 80.

Where a study stands for means that scatter less than it, and its degrees of freedom count beside
those of others (`acquire.analysis.samples.repeatability`), which of both a mean has is another
matter of each run (`beside_law`). Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from acquire.analysis.laws.quadrature import RUNS, Floats, joint_parts, joint_squares, scatter_nodes
from acquire.analysis.laws.root import crossing
from acquire.analysis.laws.special import betaincinv, ndtr, ndtri

_CLASSES = 128
"""Limits of all runs are taken in so many equal parts, each by its mean: a tenth of the points'
own error, and a small part of the work."""
_FACTORS = 64
"""Parts of equal chance that the factor of the larger spread is taken in: within 0.001, too."""
_PRECISE = 1e-7
"""Of a smallest difference: far below what is printed."""
_DIGITS = 9
"""Of the shares, so that budgets alike but for rounding have one law."""


class Line(NamedTuple):
    """One line: degrees of freedom, its share of the variance, and t^2 - z^2 at the level.

    `own_nu` are those of its degrees of freedom that the two sides have, where the line is never
    taken smaller than these spread; 0 where it stands as it is.
    """

    nu: float
    share: float
    unknown: float
    own_nu: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class LimitLaw:
    """Limits in true standard uncertainties and the weight of each, summing to 1.

    Two laws are the same where they are one object, as `limit_law` gives it for equal lines.
    """

    limits: Floats
    weights: Floats

    def shown(self, delta: float) -> float:
        """The chance to pass the limit of a difference of `delta` standard uncertainties."""
        beyond = ndtr(delta - self.limits) + ndtr(-delta - self.limits)
        return float(self.weights @ beyond)

    def smallest(self, wanted: float) -> float:
        """The least `delta` that passes with the chance `wanted`, in standard uncertainties."""
        return _smallest(self, wanted)


def limit_law(square: float, lines: Sequence[Line]) -> LimitLaw:
    """The law of the limit where z^2 is `square`; shares of `lines` sum to 1."""
    alike = [x._replace(share=round(x.share, _DIGITS)) for x in lines]
    return _law(square, tuple(sorted(alike, key=lambda x: -x.share)))


@lru_cache(maxsize=256)
def beside_law(
    square: float,
    study: tuple[float, float],
    own: tuple[float, float, float],
    far: float,
    means: int,
) -> LimitLaw:
    """The law of the limit of so many means that scatter as a study found, z^2 being `square`.

    `study` has its degrees of freedom and t^2 - z^2; `own` those of the readings of a mean, and
    t^2 - z^2 of readings that scatter more than it: within `far` times as much, and beyond.
    """
    of_study = joint_squares(study[0], 0)
    of_own = np.array([joint_squares(own[0], 1 + k) for k in range(means)])
    is_lent = of_own <= of_study
    lent = np.where(is_lent, of_study, 0.0).sum(axis=0) / means
    read = np.where(is_lent, 0.0, of_own) / means
    unknown = np.where(of_own <= far**2 * of_study, own[1], own[2])
    widest = np.maximum(study[1] * lent, (unknown * read).max(axis=0))
    return _of_runs(np.sqrt(square * (lent + read.sum(axis=0)) + widest))


def _of_runs(limits: Floats) -> LimitLaw:
    limits.sort()
    limits = limits.reshape(_CLASSES, RUNS // _CLASSES).mean(axis=1)
    return LimitLaw(limits, np.full(_CLASSES, 1 / _CLASSES))


@lru_cache(maxsize=1024)
def _law(square: float, lines: tuple[Line, ...]) -> LimitLaw:
    estimated = [x for x in lines if np.isfinite(x.nu) and x.share > 0]
    known = square * max(0.0, 1 - sum(x.share for x in estimated))
    if len(estimated) < 2:
        only = estimated[0] if estimated else Line(np.inf, 0.0, 0.0)
        r, weights = scatter_nodes(only.nu)
        squares = r * r
        if _is_raised(only):
            factors, shares = _factors(only.nu, only.own_nu)
            squares = np.outer(squares, factors).ravel()
            weights = np.outer(weights, shares).ravel()
        return LimitLaw(np.sqrt(known + (square + only.unknown) * only.share * squares), weights)
    found = np.array([x.share for x in estimated])[:, None] * np.array(
        [
            joint_squares(x.nu, k)
            * (_joint_raised(x.nu, x.own_nu, len(estimated) + k) if _is_raised(x) else 1.0)
            for k, x in enumerate(estimated)
        ]
    )
    unknown = np.array([x.unknown for x in estimated])[:, None]
    return _of_runs(np.sqrt(known + square * found.sum(axis=0) + (unknown * found).max(axis=0)))


@lru_cache(maxsize=1024)
def _smallest(law: LimitLaw, wanted: float) -> float:
    def lacking(delta: float) -> float:
        return law.shown(delta) - wanted

    # Near the mean limit and the share of the normal law that is wanted beyond it.
    near = max(1.0, float(law.weights @ law.limits + ndtri(wanted)))
    low, high = 0.8 * near, 1.25 * near
    if lacking(low) >= 0:
        low = 0.0
        if lacking(low) >= 0:
            return 0.0
    while lacking(high) < 0:
        low, high = high, 2 * high
    return crossing(lacking, low, high, rel=_PRECISE)


def _is_raised(line: Line) -> bool:
    return 0 < line.own_nu < line.nu


def _raised(nu: float, own_nu: float, parts: Floats) -> Floats:
    """The factor of r^2 at these probabilities."""
    share = betaincinv(own_nu / 2, (nu - own_nu) / 2, parts)
    found: Floats = np.maximum(1.0, share * nu / own_nu)
    return found


# All pairs of a stage have the same degrees of freedom.
@lru_cache(maxsize=256)
def _joint_raised(nu: float, own_nu: float, place: int) -> Floats:
    """As `_raised`, in the runs of several lines together; `place` names the points."""
    found = _raised(nu, own_nu, joint_parts(place))
    found.setflags(write=False)
    return found


@lru_cache(maxsize=64)
def _factors(nu: float, own_nu: float) -> tuple[Floats, Floats]:
    """Factors of r^2 and the share of runs that has each; about half of the runs have 1."""
    factors, counts = np.unique(
        _raised(nu, own_nu, (np.arange(_FACTORS) + 0.5) / _FACTORS), return_counts=True
    )
    return factors, counts / _FACTORS
