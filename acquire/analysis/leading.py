"""The treatment with the best net change against each of the other treatments at one stage.

Which treatment is best is seen from the same readings, so the best one meets every other as the
largest of many differences: the limit is that of all pairs of treatments of the stage together, by
Bonferroni's inequality (5 % over the number of pairs, `acquire.analysis.reach`), whichever of them
is asked about. The chance of even one false "ahead" is then at most 5 %. A difference of two
treatments is a contrast like that against the control, with the same scatter, display and checks,
and a known shift of the meter is added in full: U + |b| (`acquire.analysis.comparison`). Pure; any
thread.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from acquire.analysis.basis import Basis, evaluate
from acquire.analysis.cell import Cell
from acquire.analysis.comparison import Comparison, Refusal
from acquire.analysis.contrast import change_of
from acquire.analysis.decision import Decision
from acquire.analysis.pairing import arm_of
from acquire.analysis.reach import reach_of
from acquire.analysis.uncertainty import CONFIDENCE, total_bias


@dataclass(frozen=True, slots=True)
class Lead:
    """How far the treatment with the best net change lies ahead of `rival`, in the measure's unit.

    `ahead` is never negative: better is up, also where a lower value is. `reach` is the half width
    of the interval of 95 % for all `pairs` of treatments of the stage together. `decision` is
    better, shown equal (the whole interval lies inside the plan's margin), no difference shown, or
    none; then `lacking` says why, and `reach` is infinite.
    """

    leader: str
    rival: str
    stage: str
    ahead: float
    reach: float
    pairs: int
    decision: Decision
    lacking: str = ""

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
    if not judged:
        return ()
    best, others = judged[0], judged[1:]
    pairs = math.comb(len(others) + 1, 2)
    return tuple(_lead(best, other, pairs, names, cells, basis) for other in others)


def _lead(
    best: Comparison,
    other: Comparison,
    pairs: int,
    names: Mapping[str, str],
    cells: Mapping[str, Sequence[Cell]],
    basis: Basis,
) -> Lead:
    stage = best.stage
    arms = [
        arm_of(c.treatment, names[c.treatment], cells[c.treatment], stage, basis.bare)
        for c in (best, other)
    ]
    contrast = change_of(arms[0].pairs).minus(change_of(arms[1].pairs))
    evaluation = evaluate(contrast, basis)
    ahead = abs(contrast.estimate)
    lacking = evaluation.lacking or evaluation.known.offset_unknown
    if lacking:
        return Lead(best.treatment, other.treatment, stage, ahead, math.inf, pairs,
                    Decision.REFUSED, lacking)  # fmt: skip
    random = reach_of(evaluation.terms).half_width((1 - CONFIDENCE) / pairs)
    reach = random + abs(total_bias(evaluation.known.biases))
    if basis.margin is not None and ahead + reach < basis.margin:
        decision = Decision.EQUAL
    else:
        decision = Decision.BETTER if ahead > reach else Decision.NOT_SHOWN
    return Lead(best.treatment, other.treatment, stage, ahead, reach, pairs, decision)
