"""Every treatment against the control at one stage, all at once.

The figure compared is the difference in differences D = (after - bare) of the treated zones less
(after - bare) of the control zones: it frees the result of what the panel and the meter did
meanwhile. The limit holds for all treatments of the stage together, so that the chance of even one
false "better" or "worse" among them is at most 5 %: by Dunnett's limit where one scatter stands
for all of them (`acquire.analysis.treatments.family`), else whatever their readings scatter by
(`acquire.analysis.budget.reach`), and with several zones a treatment where these spread alike
(`acquire.analysis.specimens.zones`).

What the checks know of the meter's drift and offset is left in D. A difference is real only if it
is real both with and without that bias b, so |b| is added to the reach of every interval, after
the limit: |D| > U + |b|. While the meter drifts in a straight line this errs no more often than
D - b against U, because |D| <= |D - b| + |b|. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from typing import NamedTuple

from acquire.analysis.budget.reach import Reach, coverage_rule, joint_level, reach_of, shared_level
from acquire.analysis.budget.uncertainty import CONFIDENCE, Budget, budget
from acquire.analysis.cells.cell import Cell
from acquire.analysis.cells.contrast import change_of
from acquire.analysis.cells.onesided import NEXT, why_one_sided
from acquire.analysis.comparisons.smallest import smallest_seen
from acquire.analysis.films.film import Film, film_of, worded_film
from acquire.analysis.films.filmable import why_no_film
from acquire.analysis.specimens.scatter import ENOUGH
from acquire.analysis.treatments.basis import NO_STEP, Basis, Evaluation, evaluate
from acquire.analysis.treatments.decision import Decision, Finding, decide, worded
from acquire.analysis.treatments.family import shared_loadings
from acquire.analysis.treatments.ownspread import is_by_depth, is_pooled, own_nu_of
from acquire.analysis.treatments.pairing import Arm, arm_of, caveats_of, scope_of

_AGEING = "The panel's own ageing between the stages, as far as the control zones show it."
_OWN_LOSS = "What the slide itself reflects and absorbs, as far as blanks of the same box show it."


@dataclass(frozen=True)
class Comparison:
    """One treatment against the control at one stage; figures in the measure's unit.

    `estimate` is the net change D, `treated_change` less `control_change`. `interval` is the
    simultaneous 95 % interval, `p` a bound of the probability of such a D or a larger one, for any
    of the `family` treatments, if none differed from the control but for the known bias of the
    meter. `critical_value` is the half width of the interval without that bias over the standard
    uncertainty. `equality_interval` is the 90 % interval that is held against the margin.
    `smallest_visible` is the true difference that this run would have shown in 80 of 100 repeats,
    also one that goes against the known bias (`acquire.analysis.comparisons.smallest`).
    `is_of_zones` says whether the spread of several zones on both sides decides; else the decision
    is about the zones that were read.

    Of a transmittance all figures are of natural logarithms, relative, and `film` says them as the
    ratio that they stand for; else `film` is None. `blocks` counts the blocks within which the
    difference was taken, 0 where it was not.

    What could have been seen takes as long to work out as all the rest, so it is, and with it the
    sentence, where somebody asks: by `seen`, and by `says`, which makes the sentence of it. So is
    `p`, by `reach`.
    """

    treatment: str
    stage: str
    zones: tuple[str, ...]
    control_zones: tuple[str, ...]
    estimate: float
    treated_change: float
    control_change: float
    interval: tuple[float, float]
    equality_interval: tuple[float, float]
    margin: float | None
    critical_value: float
    family: int
    reach: Reach
    seen: Callable[[], float] = field(repr=False, compare=False)
    decision: Decision
    is_difference_shown: bool
    is_of_zones: bool
    budget: Budget
    says: Callable[[float], str] = field(repr=False, compare=False)
    caveats: tuple[str, ...]
    film: Film | None = None
    blocks: int = 0

    @cached_property
    def p(self) -> float:
        found = self.reach.p(abs(self.estimate) - abs(self.budget.bias))
        return found if self.reach.lambdas else joint_level(found, self.family)

    @cached_property
    def smallest_visible(self) -> float:
        return self.seen()

    @cached_property
    def sentence(self) -> str:
        return self.says(self.smallest_visible)


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a treatment cannot be judged at a stage, and what would help."""

    treatment: str
    stage: str
    reason: str
    next_step: str
    sentence: str
    decision: Decision = Decision.REFUSED


@dataclass(frozen=True, slots=True)
class _Candidate:
    arm: Arm
    evaluation: Evaluation
    reach: Reach


class _Family(NamedTuple):
    """How many treatments are judged together, and their lambdas where one scatter is of all."""

    size: int
    lambdas: tuple[float, ...]


def compare(
    treatments: Sequence[tuple[str, str]],
    control: str,
    cells: Mapping[str, Sequence[Cell]],
    stage: str,
    basis: Basis,
) -> tuple[Comparison | Refusal, ...]:
    """Compare all `treatments` (pairs of id and name) with the control at `stage`.

    `cells` gives for each treatment, the control's included, its cells at all stages. The answer
    has one entry a treatment, in the order given.
    """
    control_arm = arm_of(control, "the control", cells.get(control, ()), stage, basis.bare)
    found: dict[str, _Candidate | Refusal] = {}
    for treatment, name in treatments:
        arm = arm_of(treatment, name, cells.get(treatment, ()), stage, basis.bare)
        found[treatment] = _candidate(arm, control_arm, stage, basis)
    judged = [c.evaluation for c in found.values() if isinstance(c, _Candidate)]
    family = _Family(len(judged), shared_loadings(judged, control))
    return tuple(
        _judged(c, control_arm, family, stage, basis) if isinstance(c, _Candidate) else c
        for c in found.values()
    )


def _candidate(arm: Arm, control: Arm, stage: str, basis: Basis) -> _Candidate | Refusal:
    places = [place for side in (arm, control) for place in (*side.read, *side.missing)]
    if beyond := why_one_sided(places, basis.one_sided):
        # Of several zones, too: the one that lies out of range is not one by chance.
        return _refused(arm, stage, beyond, NEXT)
    for side in (arm, control):
        if not side.pairs:
            return _refused(arm, stage, side.lacking, _to_read(side, basis))
    no_film = why_no_film(arm, control, basis) if basis.scale.is_ratio else None
    if no_film is not None:
        return _refused(arm, stage, *no_film)
    contrast = change_of(arm.pairs).minus(change_of(control.pairs))
    evaluation = evaluate(contrast, basis)
    if evaluation.lacking:
        return _refused(
            arm,
            stage,
            evaluation.lacking,
            "say the step of the display (resolution) in the check policy"
            if evaluation.lacking == NO_STEP
            else f"read each zone at least {ENOUGH} times at each stage",
        )
    if evaluation.known.offset_unknown and basis.scale.is_ratio:
        return _refused(
            arm,
            stage,
            "an offset of the meter does not cancel in a ratio, and "
            + evaluation.known.offset_unknown,
            "read control and treated slides in one sitting, under a check with a reference piece",
        )
    if evaluation.known.offset_unknown:
        return _refused(
            arm,
            stage,
            f"treated and control zones were read {evaluation.known.apart}, and "
            + evaluation.known.offset_unknown,
            "read control and treated zones in one sitting, with one meter",
        )
    reach = reach_of(evaluation.terms, own_nu=own_nu_of(evaluation))
    return _Candidate(arm, evaluation, reach)


def _to_read(side: Arm, basis: Basis) -> str:
    """What to read where a side has nothing; nobody is sent to read what was given up."""
    if basis.given_up.intersection(side.missing):
        return "none, since it was given up to read that; another trial would tell"
    return f"read {side.wanting} and look again"


def _judged(
    candidate: _Candidate, control: Arm, family: _Family, stage: str, basis: Basis
) -> Comparison:
    arm, alone, known = candidate.arm, candidate.reach, candidate.evaluation.known
    estimate = candidate.evaluation.contrast.estimate
    reach = replace(alone, lambdas=family.lambdas)
    level = 1 - CONFIDENCE if family.lambdas else shared_level(1 - CONFIDENCE, family.size)
    limit = reach.half_width(level) / reach.u
    table = budget(
        _measurand(arm, stage, basis),
        basis.scale.unit,
        candidate.evaluation.terms,
        coverage=(limit, coverage_rule(reach, level, family.size)),
        cancels=(*known.cancels, _AGEING if basis.blanks is None else _OWN_LOSS),
        biases=known.biases,
    )
    bias = table.bias
    narrow = alone.half_width(2 * (1 - CONFIDENCE)) + abs(bias)
    finding = Finding(
        estimate, table.expanded, narrow, basis.margin, bias, known.source, known.is_of_gain
    )
    decision = decide(finding, higher_is_better=basis.higher_is_better)
    subject = f"{arm.name}, {stage}{', corrected for drift' if known.is_corrected else ''}"
    treated, untreated = change_of(arm.pairs).estimate, change_of(control.pairs).estimate
    film = None
    if basis.scale.is_ratio:
        film = film_of(treated, untreated, table.expanded, narrow, table.combined, basis.scale)
    scope = scope_of(arm, control, is_of_zones=candidate.evaluation.is_of_zones)

    def says(visible: float) -> str:
        said = (
            worded(decision, finding, subject, basis.suffix, visible)
            if film is None
            else worded_film(decision, finding, film, subject, basis, visible)
        )
        return " ".join(filter(None, (said, scope)))

    return Comparison(
        treatment=arm.treatment,
        stage=stage,
        zones=arm.zones,
        control_zones=control.zones,
        estimate=estimate,
        treated_change=treated,
        control_change=untreated,
        interval=(estimate - table.expanded, estimate + table.expanded),
        equality_interval=(estimate - narrow, estimate + narrow),
        margin=basis.margin,
        critical_value=limit,
        family=family.size,
        reach=reach,
        seen=partial(smallest_seen, reach, level, candidate.evaluation, arm.treatment, basis),
        decision=decision,
        is_difference_shown=finding.is_difference_shown,
        is_of_zones=candidate.evaluation.is_of_zones
        or (basis.blanks is not None and min(len(arm.pairs), len(control.pairs)) > 1),
        budget=table,
        says=says,
        caveats=(
            *caveats_of(
                arm,
                control,
                basis,
                candidate.evaluation.blocks,
                is_of_zones=candidate.evaluation.is_of_zones,
                is_pooled=is_pooled(candidate.evaluation),
                is_by_depth=is_by_depth(candidate.evaluation),
            ),
            *known.caveats,
        ),
        film=film,
        blocks=candidate.evaluation.blocks,
    )


def _measurand(arm: Arm, stage: str, basis: Basis) -> str:
    if basis.scale.is_ratio:
        return f"ln of the film transmittance of {arm.name} at {stage}, {basis.scale.what}"
    return f"net change of {arm.name} from {basis.bare} to {stage}"


def _refused(arm: Arm, stage: str, reason: str, next_step: str) -> Refusal:
    return Refusal(
        arm.treatment,
        stage,
        reason,
        next_step,
        f"{arm.name}, {stage}: no decision, because {reason}. Next: {next_step}.",
    )
