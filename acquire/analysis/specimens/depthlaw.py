"""How the spread of films grows with their depth, and how surely that is known at one depth.

A film whose thickness differs from slide to slide by a part of itself differs in depth by that part
(absorbance is in proportion to thickness: Bouguer and Lambert's law, ISO 80000-7, from memory). So
slides of a film of the depth d, in natural logarithms, spread by

    V(d) = v (1 + q d^2),

v being the variance of slides without a film and v q that of thicknesses as a part of themselves.
Depths are taken from the clearest treatment of a stage, so that what lamp and head did in the
meantime is in none.
One spread for all films alike is too small for one that is far deeper than all others, and has
degrees of freedom that its slides do not have: of drawn intervals 16 in 100 missed with two slides
each, 10 with three and 5 with five.

v and q, which is 0 or more, are the likeliest ones for the variances s_i^2 that all treatments have
at their depths, each with nu_i degrees of freedom (normal law; of one variance a treatment the
likelihood is the restricted one). V at a depth is a weighted mean of both, with effective degrees
of freedom 2 V^2 / var V, var V from the information of the fit (F. G. Giesbrecht and J. C. Burns,
Biometrics 41 (1985) 477, from memory): as a line through the s_i^2 over d_i^2 with the weights
w_i = nu_i / (2 V_i^2), var V = 1 / sum w + (d^2 - m)^2 / sum w (d_i^2 - m)^2, m the weighted mean
of d_i^2. Of two treatments this is the limit of B. L. Welch with the degrees of freedom of
JCGM 100:2008, G.4.1. Where other films have no depth to speak of, a deep one has so just the
degrees of freedom of its own slides; where they have some, theirs help. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from acquire.analysis.budget.uncertainty import CONFIDENCE, Term
from acquire.analysis.figures import rounded
from acquire.analysis.laws.root import crossing
from acquire.analysis.laws.student import t_factor

Floats = NDArray[np.float64]

AT_DEPTH = ", at the depth of the film"
"""Ends the name of a line whose spread is that of slides at one depth."""
LEAST_NU = 0.999
"""Degrees of freedom below which nothing is told: two slides have 1, but for its last digits."""
FAR = 4.0
"""How many times deeper than what is held to be none a film is that is judged by slides of its
depth. Our choice, by drawing: of slight films that do just what is named as the smallest visible
change 78 to 81 in 100 are shown; with two slides each it were 73 to 77 at three times, 67 at twice
and 58 at once. Films whose thickness varies by a fifth of itself or less are missed no more often
than at once, by 0.3 with two slides in 9.5 of 100 in place of 8.3."""
_LARGER = 1 + 1e-9
"""A variance that is no larger than another but for its last digits is not larger."""

_LEAST_GROWTH, _MOST_GROWTH, _GROWTHS = -9.0, 9.0, 73
"""Powers of ten between which the growth of the deepest is looked for, and in how many steps."""


class Found(NamedTuple):
    """A variance at a depth (natural logarithm, 0 for none), with its degrees of freedom."""

    depth: float
    variance: float
    nu: float


class AtDepth(NamedTuple):
    """A variance at one depth, with its effective degrees of freedom.

    It is `level` squared plus the square of `part` times `depth`: the standard deviation of slides
    without a film, and that of a film as a part of its depth.
    """

    variance: float
    nu: float
    level: float
    part: float
    depth: float

    def said(self, of_two: str) -> str:
        """What a budget adds, so that the figure can be followed; `of_two` says what depth is."""
        level, part = (rounded(x, x / 10) for x in (self.level, self.part))
        depth = rounded(self.depth, self.depth / 100)
        return (
            f"at the depth of these films: √({level}² + ({part} × {depth})²), where slides "
            f"without a film differ by {level}, films by {part} of their depth in natural "
            f"logarithms below the clearest treatment, and {depth} is {of_two}"
        )


class DepthLaw(NamedTuple):
    """V(d) = `variance` (1 + `growth` d^2) with what it was found from."""

    variance: float
    growth: float
    found: tuple[Found, ...]

    def at(self, square: float) -> AtDepth:
        """At the square of a depth, or at a weighted mean of several."""
        own = 1 + self.growth * square
        # Relative to V squared, so that no digits are lost of very small variances.
        at = [(one.depth**2, one.nu) for one in self.found]
        weights = [nu / 2 * (own / (1 + self.growth * g)) ** 2 for g, nu in at]
        known = math.fsum(weights)
        middle = math.fsum(w * g for w, (g, _) in zip(weights, at, strict=True)) / known
        about = math.fsum(w * (g - middle) ** 2 for w, (g, _) in zip(weights, at, strict=True))
        lever = (square - middle) ** 2
        doubt = 1 / known + (lever / about if about > 0 else (math.inf if lever > 0 else 0.0))
        nu = min(2 / doubt, math.fsum(one.nu for one in self.found))
        return AtDepth(
            self.variance * own, nu, math.sqrt(self.variance),
            math.sqrt(self.variance * self.growth), math.sqrt(square),
        )  # fmt: skip


# Every difference of a stage rests on the same slides.
@lru_cache(maxsize=256)
def law_of(found: tuple[Found, ...]) -> DepthLaw | None:
    """The likeliest law; None where nothing scatters, or nothing has a depth."""
    held = tuple(one for one in found if one.nu > 0)
    if not any(one.variance > 0 for one in held) or not any(one.depth > 0 for one in held):
        return None
    g, s2, nu = (np.array(column) for column in ([one.depth**2 for one in held],
                 [one.variance for one in held], [one.nu for one in held]))  # fmt: skip
    return DepthLaw(*_likeliest(g, s2, nu), held)


def beyond_pool(
    found: tuple[Found, ...],
    square: float,
    apart: float,
    deepest: float,
    pool: float,
    share: float,
    nu: float,
) -> AtDepth | None:
    """What the law of `found` says at a depth; None where the spread of all alike stands.

    `pool` is that spread squared, with `nu` degrees of freedom, `share` what it is multiplied by
    for the uncertainty of a difference, `apart` how far this is from none, and `deepest` the depth
    of the deeper side. It stands where it is the larger one, or where it holds the difference
    itself to be none: a film that is not shown has no depth to spread by. It stands, too, where the
    depth is less than four times what it holds to be none: slides so near one another cannot tell
    how films grow restless with depth, so what the fit finds there is chance.
    """
    least = t_factor(nu, CONFIDENCE) * math.sqrt(pool) * share
    if not (apart > least and deepest > FAR * least):
        return None
    law = law_of(found)
    if law is None:
        return None
    at = law.at(square)
    return at if at.variance > _LARGER * pool and at.nu > LEAST_NU else None


def is_at_depth(line: Term) -> bool:
    """Whether a line is of slides at one depth, with degrees of freedom of its own."""
    return line.name.endswith(AT_DEPTH)


def at_no_depth(found: Sequence[Found], growth: Callable[[float], float]) -> float | None:
    """The likeliest variance of what has no depth; `growth` is g of a depth, 0 at none.

    None where nothing was found, or nothing scatters.
    """
    held = [one for one in found if one.nu > 0]
    if not held or not any(one.variance > 0 for one in held):
        return None
    g = np.array([growth(one.depth) for one in held])
    s2, nu = np.array([one.variance for one in held]), np.array([one.nu for one in held])
    return _likeliest(g, s2, nu)[0] if g.max() > 0 else float(nu @ s2 / nu.sum())


def _likeliest(g: Floats, s2: Floats, nu: Floats) -> tuple[float, float]:
    """v and q; at least one of `g` is above zero, and one of `s2`."""
    tried = 10 ** np.linspace(_LEAST_GROWTH, _MOST_GROWTH, _GROWTHS) / g.max()
    growths = np.concatenate([[0.0], tried])
    factors = 1 + np.outer(growths, g)
    v = (s2 / factors) @ nu / nu.sum()
    best = int(np.argmin(nu.sum() * np.log(v) + np.log(factors) @ nu))
    q = float(growths[best])
    if 1 < best < _GROWTHS:
        q = _crossed(float(growths[best - 1]), float(growths[best + 1]), q, g, s2, nu)
    return float(nu @ (s2 / (1 + q * g)) / nu.sum()), q


def _crossed(low: float, high: float, q: float, g: Floats, s2: Floats, nu: Floats) -> float:
    """The growth between two at which the likelihood is flat; `q` where it is not between them."""

    def slope(log_q: float) -> float:
        grown = math.exp(log_q) * g
        left = nu * s2 / (1 + grown)
        part = grown / (1 + grown)
        return float(nu @ part - nu.sum() * (left @ part) / left.sum())

    ends = math.log(low), math.log(high)
    if not slope(ends[0]) < 0 < slope(ends[1]):
        return q
    return math.exp(crossing(slope, *ends, rel=1e-9))
