"""The treatment with the best net change against each of the other treatments at one stage.

Which treatment is best is seen from the same readings, so the best one meets every other as the
largest of many differences: the limit is that of all pairs of treatments of the stage together
(`acquire.analysis.comparisons.among`), whichever of them is asked about. The chance of even one
false "ahead" is then at most 5 %. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from acquire.analysis.cells.cell import Cell
from acquire.analysis.comparisons.among import Pair, pair_of
from acquire.analysis.comparisons.comparison import Comparison, Refusal
from acquire.analysis.treatments.basis import Basis
from acquire.analysis.treatments.decision import Decision


@dataclass(frozen=True, slots=True)
class Lead:
    """How far the treatment with the best net change lies ahead of `rival`, in the measure's unit.

    `ahead` is never negative: better is up, also where a lower value is. `reach` is the half width
    of the interval of 95 % for all `pairs` of treatments of the stage together, `smallest_visible`
    the lead that this run would have shown in 80 of 100 repeats. `decision` is better, shown equal
    (the whole interval lies inside the plan's margin), no difference shown, or none; then `lacking`
    says why, and both are infinite. `pair` is what all this is taken from, the leader first.
    """

    leader: str
    rival: str
    stage: str
    ahead: float
    reach: float
    pairs: int
    decision: Decision
    pair: Pair
    lacking: str = ""

    @property
    def smallest_visible(self) -> float:
        return self.pair.smallest_visible

    @property
    def interval(self) -> tuple[float, float]:
        return self.ahead - self.reach, self.ahead + self.reach


def ranked(
    found: Sequence[Comparison | Refusal], *, higher_is_better: bool
) -> tuple[Comparison | Refusal, ...]:
    """The comparisons of one stage, best net change first; refused ones last, as they came."""
    judged = [c for c in found if isinstance(c, Comparison)]
    judged.sort(key=lambda c: c.estimate, reverse=higher_is_better)
    return (*judged, *(c for c in found if not isinstance(c, Comparison)))


def leads(
    found: Sequence[Comparison | Refusal],
    names: Mapping[str, str],
    cells: Mapping[str, Sequence[Cell]],
    basis: Basis,
) -> tuple[Lead, ...]:
    """The best of the comparisons of one stage against each other one, nearest first."""
    order = ranked(found, higher_is_better=basis.higher_is_better)
    judged = [c for c in order if isinstance(c, Comparison)]
    return tuple(_lead(judged[0], other, len(judged), names, cells, basis) for other in judged[1:])


def _lead(
    best: Comparison,
    other: Comparison,
    treatments: int,
    names: Mapping[str, str],
    cells: Mapping[str, Sequence[Cell]],
    basis: Basis,
) -> Lead:
    pair = pair_of(best, other, treatments, names, cells, basis)
    return Lead(
        best.treatment, other.treatment, best.stage, abs(pair.estimate), pair.half_width,
        math.comb(treatments, 2), pair.decision, pair, pair.lacking,
    )  # fmt: skip
