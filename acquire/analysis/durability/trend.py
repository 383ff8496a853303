"""Whether a value falls with the wash count, in whatever shape, over one zone or several.

Kendall's score: pairs of counts in which the later value is higher, less those in which it is
lower, summed over zones (H. B. Mann, Econometrica 13 (1945) 245; over blocks: R. M. Hirsch, J. R.
Slack and R. A. Smith, Water Resour. Res. 18 (1982) 107; from memory). Its chances where there is no
trend are counted exactly, ties among the values of a zone included: the number of inversions of a
shuffled list with ties has the q-multinomial coefficient as generating function. Zones must be
independent. Where a trend is looked at only because the first value is large (a gain that was not
shown has none to lose), that choice alone makes falls: so the chances are those among the orders
that would have been looked at, too, in which one of the values above the same bound stands first.
All orders of these are as likely as one another where there is no trend. Washing can only wear, so
the decision is one-sided, and a rise is never decided by it. Pure; any thread.
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from acquire.analysis.durability.nonnegative import Floats
from acquire.analysis.figures import probability
from acquire.analysis.samples.summary import checked

ALPHA = 0.05


@dataclass(frozen=True, slots=True)
class Trend:
    """`score` from all falling (below 0) to all rising, over `zones` with `counts` each.

    `p_fall` is the chance of so low a score without a trend, `p_rise` of so high a one, `p` of one
    so far from 0. `smallest` is the `p_fall` of values as far from rising as these can stand: above
    0.05 no order of them can show a fall, for so few counts or for those that are `equal` to
    another of their zone. `least` is that by the values that had to be first (`trend`), never
    below, and `first` how many values could be. `tau` is the score over its largest possible size;
    None where all values of each zone are equal. All p are None with `lacking` saying why.
    """

    score: int
    zones: int
    counts: tuple[int, ...]
    tau: float | None
    p_fall: float | None
    p_rise: float | None
    p: float | None
    smallest: float | None
    lacking: str = ""
    least: float | None = None
    first: int = 0
    equal: int = 0

    @property
    def is_fall_shown(self) -> bool:
        return self.p_fall is not None and self.p_fall <= ALPHA

    @property
    def can_show(self) -> bool:
        """Whether any order of these values could have shown a fall."""
        return self.smallest is not None and self.smallest <= ALPHA

    @property
    def tied(self) -> str:
        """That equal values are why no order can show a fall; empty where so few never could."""
        orders = math.prod(math.factorial(n) for n in self.counts)
        if self.smallest is None or self.can_show or orders * ALPHA < 1:
            return ""
        return (
            f"{self.equal} of the {sum(self.counts)} gains are equal to another, so that their "
            "order cannot show a trend."
        )

    @property
    def words(self) -> str:
        if self.p_fall is None:
            return f"No trend can be tested: {self.lacking}."
        if self.is_fall_shown:
            return f"It falls with the washes{self.chance}."
        told = f"A fall with the washes is not shown by the order of the counts{self.chance}."
        return told + self.why

    @property
    def chance(self) -> str:
        """The chance of such a fall, behind what is said of it."""
        return "" if self.p_fall is None else f" (p {probability(self.p_fall)}, one-sided)"

    @property
    def why(self) -> str:
        """Why no order of these values could have shown a fall; empty where one could."""
        if self.tied:
            return f" {self.tied}"
        if not self.can_show:
            return " So few counts could not have shown it, however steep."
        if self.least is None or self.least <= ALPHA:
            return ""
        # A steep fall leaves as few of them as a first gain that is hardly shown.
        return (
            " No order could have shown it: only those count that begin with a gain large enough "
            f"to be shown, and {self.first} of the {sum(self.counts)} gains "
            f"{'is' if self.first == 1 else 'are'}."
        )


def trend(
    zones: Sequence[tuple[Sequence[float], Sequence[float]]], above: float = -math.inf
) -> Trend:
    """Each zone is (wash counts, values), one value a count, in any order.

    Several readings of one count go in as their mean. `above` is what the value at the first count
    of each zone had to be above for the zone to be looked at. Raises ValueError for lists of
    different length, a count twice in a zone, figures that are not finite, or a first value that is
    not above.
    """
    ordered = [_ordered(*zone) for zone in zones]
    sizes = tuple(len(v) for v in ordered)
    usable = [v for v in ordered if len(set(v)) > 1]
    score = sum(_score(v) for v in usable)
    if not usable:
        why = (
            "all values are equal"
            if any(size > 1 for size in sizes)
            else "two counts or more of a zone are wanted"
        )
        return Trend(score, len(sizes), sizes, None, None, None, None, None, why)
    largest = sum(_untied(v) for v in usable)
    law = free = np.ones(1)
    for values in usable:
        law = np.convolve(law, _law_of(values, above))
        free = np.convolve(free, inversions_law(list(Counter(values).values())))
    # Of so many pairs that are not tied, score = pairs - 2 inversions.
    scores = largest - 2 * np.arange(law.size)
    fall = float(law[scores <= score].sum())
    rise = float(law[scores >= score].sum())
    either = float(law[np.abs(scores) >= abs(score)].sum())
    return Trend(
        score, len(sizes), sizes, score / largest, min(1.0, fall), min(1.0, rise),
        min(1.0, either), float(free[-1]), least=float(law[law > 0][-1]),
        first=sum(v > above for values in usable for v in values),
        equal=sum(n for values in ordered for n in Counter(values).values() if n > 1),
    )  # fmt: skip


def _law_of(values: Sequence[float], above: float) -> Floats:
    """The chance of each number of inversions of these values, one that is `above` first."""
    if not values[0] > above:
        raise ValueError(f"the first value is to be above {above}, got {values[0]}")
    first = Counter(v for v in values if v > above)
    if len(set(values)) == 1 or first.total() == len(values):
        return inversions_law(list(Counter(values).values()))
    law = np.zeros(_untied(values) + 1)
    for value, many in first.items():
        # It is inverted with whatever is lower; the others stand in any order.
        others = Counter(values) - Counter([value])
        theirs = inversions_law(list(others.values()))
        lower = sum(n for v, n in others.items() if v < value)
        law[lower : lower + theirs.size] += theirs * (many / first.total())
    return law


def inversions_law(ties: Sequence[int]) -> Floats:
    """The chance of each number of inversions, from 0 on, in a shuffled list with these ties.

    `ties` says how often each different value is there. Shape (untied pairs + 1,).
    """
    # Whole numbers: to divide by running sums would pile up what floats round.
    law = [1]
    placed = 0
    for many in ties:
        # Putting so many equal values among those placed: times (1 - q^(placed + i)) / (1 - q^i).
        for i in range(1, many + 1):
            law = _divided(_times(law, placed + i), i)
        placed += many
    ways = sum(law)
    return np.array([w / ways for w in law])


def _times(law: list[int], step: int) -> list[int]:
    """Times 1 - q^step."""
    shifted = [0] * step + law
    return [a - b for a, b in zip(law + [0] * step, shifted, strict=True)]


def _divided(law: list[int], step: int) -> list[int]:
    """Over 1 - q^step, which divides it."""
    result = list(law)
    for k in range(step, len(result)):
        result[k] += result[k - step]
    return result[: len(result) - step]


def _ordered(counts: Sequence[float], values: Sequence[float]) -> list[float]:
    if len(counts) != len(values):
        raise ValueError(f"as many counts as values: {len(counts)} for {len(values)}")
    if len(set(counts)) != len(counts):
        raise ValueError("one value a count of a zone is wanted: take the mean of its readings")
    pairs = sorted((checked(c), checked(v)) for c, v in zip(counts, values, strict=True))
    return [v for _, v in pairs]


def _score(values: Sequence[float]) -> int:
    return sum((b > a) - (b < a) for a, b in itertools.combinations(values, 2))


def _untied(values: Sequence[float]) -> int:
    return math.comb(len(values), 2) - sum(math.comb(t, 2) for t in Counter(values).values())
