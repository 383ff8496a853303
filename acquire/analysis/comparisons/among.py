"""All treatments of one stage against one another.

The limit of a pair is that of all pairs of the stage together, so that the chance of even one false
"better" or "worse" among them is at most 5 % whichever pair is asked about, the best one against
the second best included. It is the studentized range with each zone's own scatter, at the least
known line (`acquire.analysis.budget.reach`); of two treatments alone it is the limit of one
difference. A difference of two treatments is a contrast like that against the control, with the
same scatter, display and checks; the control's own readings are on both sides and are gone from it.
A known shift of the meter is added in full: U + |b| (`acquire.analysis.comparisons.comparison`).
Pure; any thread.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, partial

from acquire.analysis.budget.reach import Reach, reach_of
from acquire.analysis.budget.uncertainty import CONFIDENCE, Term, total_bias
from acquire.analysis.cells.cell import Cell
from acquire.analysis.cells.contrast import change_of
from acquire.analysis.comparisons.comparison import Comparison, Refusal
from acquire.analysis.comparisons.smallest import smallest_seen
from acquire.analysis.figures import rounded, signed
from acquire.analysis.specimens.zonelines import SPREAD_OF_ZONES
from acquire.analysis.treatments.basis import Basis, Evaluation, evaluate
from acquire.analysis.treatments.decision import Decision
from acquire.analysis.treatments.ownspread import is_by_depth, own_nu_of
from acquire.analysis.treatments.pairing import Arm, arm_of

ALPHA = 1 - CONFIDENCE
_LEAST_KNOWN = "at the least known line of the budget, so that few readings are paid for."


@dataclass(frozen=True)
class Pair:
    """Treatment `first` against `second` at one stage, figures in the measure's unit.

    `estimate` is the net change of the first less that of the second, and `bias` what the known
    shifts of the meter would alone have made of it. `half_width` belongs to the interval of 95 %
    for all pairs of the `treatments` together. `smallest_visible` is the true difference that this
    run would have shown in 80 of 100 repeats. `decision` is said of the first: better, worse, shown
    equal (the whole interval lies inside the plan's margin), no difference shown, or none; then
    `lacking` says why, and the figures but for the estimate are infinite. `seen` finds the
    smallest difference that could have been seen (`acquire.analysis.comparisons.smallest`) and
    `says` makes the sentence of it, where they are asked.
    """

    first: str
    second: str
    stage: str
    estimate: float
    bias: float
    half_width: float
    treatments: int
    decision: Decision
    says: Callable[[float], str] = field(repr=False, compare=False)
    seen: Callable[[], float] = field(repr=False, compare=False)
    evaluation: Evaluation
    lacking: str = ""

    @cached_property
    def smallest_visible(self) -> float:
        return self.seen()

    @cached_property
    def sentence(self) -> str:
        return self.says(self.smallest_visible)

    @property
    def interval(self) -> tuple[float, float]:
        return self.estimate - self.half_width, self.estimate + self.half_width

    @property
    def rule(self) -> str:
        """By what limit the two were held against one another, and why by that one."""
        return rule_of(self.evaluation, self.treatments)

    @cached_property
    def p(self) -> float | None:
        """The level at which the difference is just reached, for all pairs; None where refused.

        Below 0.0001 it is 0.
        """
        if self.lacking:
            return None
        return _reach(self.evaluation, self.treatments).p(abs(self.estimate) - abs(self.bias))


def among(
    found: Sequence[Comparison | Refusal],
    names: Mapping[str, str],
    cells: Mapping[str, Sequence[Cell]],
    basis: Basis,
    known: Sequence[Pair] = (),
) -> tuple[Pair, ...]:
    """Every pair of the treatments of one stage that were compared with the control.

    `found` are the comparisons of that stage; their order is that of the pairs. `cells` gives for
    each treatment its cells at all stages. `known` are pairs of this stage that were judged
    already: they are taken as they are, so that nothing is decided twice. Empty for fewer than two
    treatments.
    """
    judged = [c for c in found if isinstance(c, Comparison)]
    at_hand = {(p.first, p.second): p for p in known}
    return tuple(
        at_hand.get((one.treatment, other.treatment))
        or pair_of(one, other, len(judged), names, cells, basis)
        for one, other in itertools.combinations(judged, 2)
    )


def pair_of(
    one: Comparison,
    other: Comparison,
    treatments: int,
    names: Mapping[str, str],
    cells: Mapping[str, Sequence[Cell]],
    basis: Basis,
) -> Pair:
    """One of two treatments against the other, among so many `treatments` of the stage."""
    first, second = (
        arm_of(c.treatment, names[c.treatment], cells[c.treatment], c.stage, basis.bare)
        for c in (one, other)
    )
    evaluation = evaluate(change_of(first.pairs).minus(change_of(second.pairs)), basis)
    estimate = evaluation.contrast.estimate
    lacking = evaluation.lacking or evaluation.known.offset_unknown
    if lacking:
        text = f"{first.name} against {second.name}, {one.stage}: no decision, because {lacking}."
        return Pair(first.treatment, second.treatment, one.stage, estimate, math.inf, math.inf,
                    treatments, Decision.REFUSED, lambda _: text, lambda: math.inf, evaluation,
                    lacking)  # fmt: skip
    reach = _reach(evaluation, treatments)
    bias = total_bias(evaluation.known.biases)
    half = reach.half_width(ALPHA) + abs(bias)
    decision = _decided(estimate, half, basis)

    def says(visible: float) -> str:
        return _worded(decision, first, second, (estimate, half, visible), basis)

    moved = second if basis.scale.is_ratio and estimate > 0 else first
    seen = partial(smallest_seen, reach, ALPHA, evaluation, moved.treatment, basis)
    return Pair(first.treatment, second.treatment, one.stage, estimate, bias, half,
                treatments, decision, says, seen, evaluation)  # fmt: skip


def rule_of(evaluation: Evaluation, treatments: int) -> str:
    """The sentence that names the limit of one pair among so many treatments."""
    # The lines of scatter come first, those of the meter after them.
    of_scatter = evaluation.terms[: len(evaluation.terms) - len(evaluation.known.terms)]
    known = [t for t in of_scatter if t.contribution > 0]
    if is_by_depth(evaluation):
        within = f", each pair within {evaluation.blocks} blocks" if evaluation.blocks else ""
        how = (
            f"Two treatments{within}, by Student's limit"
            if treatments == 2
            else f"All pairs of {treatments} treatments{within}, by the studentized range, and no "
            "less than by Student's limit for several differences together (Šidák)"
        )
        return (
            f"{how}, with the scatter at the depth of these two films and its own degrees of "
            "freedom, because films differ from slide to slide the more the deeper they are; "
            f"{_LEAST_KNOWN}"
        )
    if evaluation.blocks:
        own = not known or not known[0].is_common
        how = (
            f"{'Two' if treatments == 2 else f'All pairs of {treatments}'} treatments, each pair "
            f"within {evaluation.blocks} blocks, because the layout dealt every treatment into "
            "every block, by the spread of "
            f"{'its own differences (paired)' if own else 'differences of all treatments (Tukey)'}"
        )
        if treatments > 2 and own:
            how += (
                "; t is no less than that of the studentized range, nor than Student's for all "
                "pairs together (Šidák)"
            )
    elif treatments == 2:
        how = (
            "Two treatments, by their own scatters (Welch): which is the same as for one difference"
        )
    elif len(known) == 1:
        how = (
            f"All pairs of {treatments} treatments, by the studentized range with one scatter "
            f"(Tukey), because {_why_one(known[0])}"
        )
    else:
        how = (
            f"All pairs of {treatments} treatments, by the studentized range with each one's own "
            "scatter (Games and Howell). Whether all scatter alike is not tested first, since to "
            "choose the rule by such a test spoils its error rate, so t of few readings is no less "
            "than Student's for all treatments but one together (Šidák)"
        )
    return f"{how}; {_LEAST_KNOWN}"


def _why_one(line: Term) -> str:
    if line.name == SPREAD_OF_ZONES:
        return "zones of all treatments tell together how zones differ within a treatment"
    return "the same scatter stands for all readings and was settled before them"


def _reach(evaluation: Evaluation, treatments: int) -> Reach:
    return reach_of(
        evaluation.terms,
        treatments,
        is_paired=evaluation.blocks > 0,
        own_nu=own_nu_of(evaluation),
    )


def _decided(estimate: float, half: float, basis: Basis) -> Decision:
    if basis.margin is not None and abs(estimate) + half < basis.margin:
        return Decision.EQUAL
    if abs(estimate) <= half:
        return Decision.NOT_SHOWN
    return Decision.BETTER if (estimate > 0) == basis.higher_is_better else Decision.WORSE


def _worded(
    decision: Decision,
    first: Arm,
    second: Arm,
    figures: tuple[float, float, float],
    basis: Basis,
) -> str:
    estimate, half, visible = figures
    said = {
        Decision.BETTER: f"{first.name} is better than {second.name}",
        Decision.WORSE: f"{first.name} is worse than {second.name}",
        Decision.EQUAL: f"{first.name} and {second.name} are shown equal within "
        f"{basis.margin_text}",
        Decision.NOT_SHOWN: f"no difference of {first.name} and {second.name} is shown",
    }[decision]
    scale = basis.scale
    interval = scale.span(estimate - half, estimate + half, half, basis.held_against)
    if scale.is_ratio:
        return (
            f"{first.stage}: {said}. In {scale.what}, the film of {first.name} lets "
            f"{scale.figure(estimate, half)} % of the light through that the one of {second.name} "
            "lets through, 95 % interval for all pairs "
            f"{interval} %; the smallest difference that could have been seen is "
            f"{scale.seen(visible, half, estimate)} % of it{scale.taken_at(visible, half)}."
        )
    return (
        f"{first.stage}: {said}. Difference {signed(estimate, half)}{basis.suffix}, 95 % interval "
        f"for all pairs {interval}{basis.suffix}; the smallest difference that could have "
        f"been seen is {rounded(visible, half)}{basis.suffix}."
    )
