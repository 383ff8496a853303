"""Totals of several products, whose are shown to be ahead of whose, and how likely each is first.

Which totals differ is told by the draws of all errors together: the interval of each difference is
widened until those of all pairs hold together at 95 %, and a total is shown to be ahead where its
interval lies above 0, by the readings as they are and with the known shifts of the meter
taken off. Of a meter whose checks read one piece it has to in each way in which that may be off, of
each such meter by itself. The tails of more pairs than draws can tell are taken from the 95 %
intervals by the normal law. What is known as a bound only, a life between two looks or one that had
not ended, goes against whoever would be ahead. Two that are the same when rounded are a tie. Pure;
any thread.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from acquire.analysis.budget.uncertainty import CONFIDENCE
from acquire.analysis.laws.special import ndtri
from acquire.analysis.places.drawing import counted
from acquire.analysis.places.ranking import Chances, Places, chances_of_known, places
from acquire.analysis.scoring.printing import TINY

Floats = NDArray[np.float64]
MOST_DRAWN = 24
"""Products of which the draws tell the tail of all pairs; of more it lies beyond what was drawn."""
_FEW_DRAWS = 5000
_MOST_SHARED = 50
"""Pairs that a tail is shared by where it is counted out of draws."""
TIE_RULE = (
    "Two totals are a tie where their difference is not shown: where the interval of the "
    "difference, at 95 % for all pairs together, holds 0, where a life that is known between two "
    "looks only, or had not ended, could turn it, or where both are the same when rounded."
)


@dataclass(frozen=True, slots=True)
class Total:
    """One product: its points, draws of them, and with the known shifts of the meter taken off.

    `slack` is how much more it may be, because a life is counted at its least; may be infinite.
    `meters` has of each meter that one piece leaves open the points by it: as in `draws`, as in
    `unshifted`, and in each of the ways in which it may be off, in the same order for all products.
    """

    points: float
    draws: Floats
    unshifted: Floats
    slack: float = 0.0
    meters: Mapping[str, tuple[Floats, ...]] = field(default_factory=dict)

    @property
    def interval(self) -> tuple[float, float]:
        """95 % of the draws, as read and without the known shifts; the slack is not in it."""
        tail = (1 - CONFIDENCE) / 2
        both = [np.quantile(d, [tail, 1 - tail]) for d in (self.draws, self.unshifted)]
        further = [_further(drawn, tail) for drawn in self.meters.values()]
        below, above = (math.fsum([ends[side] for ends in further]) for side in (0, 1))
        return float(min(b[0] for b in both)) - below, float(max(b[1] for b in both)) + above


@dataclass(frozen=True, slots=True)
class Ranks:
    """Places of several products in the order given, and their chances of each place."""

    places: Places
    chances: Chances


def ranks(totals: Sequence[Total], decimals: int, seed: int) -> Ranks:
    """How products stand to one another. Raises ValueError without any."""
    k = len(totals)
    if not k:
        raise ValueError("no product, so there is nothing to rank")
    if k == 1:
        return Ranks(places(1, []), chances_of_known([totals[0].points]))
    drawn = np.array([t.draws for t in totals])
    further = _apart(totals)
    ahead = _ahead(totals, drawn, further)
    ahead &= _ahead(totals, np.array([t.unshifted for t in totals]), further)
    steps = in_steps(np.array([t.points for t in totals]), decimals)
    ahead &= steps[:, None] != steps[None, :]
    edges = [(int(i), int(j)) for i, j in np.argwhere(ahead)]
    return Ranks(places(k, edges), counted(in_steps(drawn, decimals), seed))


def in_steps(points: Floats, decimals: int) -> Floats:
    """Many points in steps of the last decimal, as `acquire.analysis.scoring.printing` does."""
    found: Floats = np.sign(points) * np.floor(np.abs(points) * 10.0**decimals + 0.5 + TINY)
    return found


def _further(drawn: Sequence[Floats], tail: float) -> tuple[float, float]:
    """By how much the ends of the points by one meter lie further out in any way than in the first
    two.

    Which way it is that meter's alone, so what each of several adds is added up.
    """
    ends = np.array([np.quantile(d, [tail, 1 - tail]) for d in drawn])
    low, high = ends[:, 0], ends[:, 1]
    return (
        max(0.0, float(low[:2].min() - low.min())),
        max(0.0, float(high.max() - high[:2].max())),
    )


def _apart(totals: Sequence[Total]) -> Floats:
    """By how much less the first (row) may be above the second (column), in any way of a meter."""
    k = len(totals)
    found = np.zeros((k, k))
    most = _FEW_DRAWS if k > MOST_DRAWN else None
    # No draws of several meters in all their ways tell a tail of all pairs, so it is shared out.
    tail = (1 - CONFIDENCE) / 2 / min(max(1, math.comb(k, 2)), _MOST_SHARED)
    for meter in dict.fromkeys(m for t in totals for m in t.meters):
        for i, j in itertools.combinations(range(k), 2):
            one, other = (totals[n].meters.get(meter, ()) for n in (i, j))
            if one or other:
                drawn = itertools.zip_longest(one, other, fillvalue=np.zeros(1))
                less, more = _further([(a - b)[:most] for a, b in drawn], tail)
                found[i, j] += less
                found[j, i] += more
    return found


def _ahead(totals: Sequence[Total], drawn: Floats, further: Floats) -> NDArray[np.bool_]:
    """Which product (row) is shown to be ahead of which (column)."""
    k = len(totals)
    found = np.zeros((k, k), np.bool_)
    pairs = list(itertools.combinations(range(k), 2))
    if k > MOST_DRAWN:
        drawn = drawn[:, :_FEW_DRAWS]
        level, wider = (1 - CONFIDENCE) / 2, _wider(len(pairs))
    else:
        level, wider = joint_tail([drawn[i] - drawn[j] for i, j in pairs]), 1.0
    for i, j in pairs:
        low, middle, high = np.quantile(drawn[i] - drawn[j], [level, 0.5, 1 - level])
        found[i, j] = middle - wider * (middle - low) - totals[j].slack - further[i, j] > 0
        found[j, i] = middle + wider * (high - middle) + totals[i].slack + further[j, i] < 0
    return found


def _wider(pairs: int) -> float:
    """By how much 95 % intervals widen so that so many hold together (Bonferroni, normal law)."""
    return float(ndtri(1 - (1 - CONFIDENCE) / 2 / pairs) / ndtri(1 - (1 - CONFIDENCE) / 2))


def joint_tail(differences: Sequence[Floats]) -> float:
    """The part of each tail that is left out so that all intervals hold together at 95 %.

    Of one difference 2.5 %; of several what the draws say, whatever these have in common.
    """
    if len(differences) == 1:
        return (1 - CONFIDENCE) / 2
    n = len(differences[0])
    least = np.full(n, 0.5)
    for one in differences:
        order = np.argsort(one)
        ordered = one[order]
        # Of equal ones each is taken from the outside: a floor that many draws share is no tail.
        # Looked up in their order each is near the one before; as drawn it takes twice as long.
        below = np.searchsorted(ordered, ordered, side="right") / n
        above = (n - np.searchsorted(ordered, ordered, side="left")) / n
        least[order] = np.minimum(least[order], np.minimum(below, above))
    return float(min((1 - CONFIDENCE) / 2, np.quantile(least, 1 - CONFIDENCE)))
