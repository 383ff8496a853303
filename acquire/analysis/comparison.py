"""Every treatment against the control at one stage, all at once.

The figure compared is the difference in differences D = (after - bare) of the treated zones less
(after - bare) of the control zones: it frees the result of what the panel and the meter did
meanwhile. The limit is Dunnett's for all treatments of the stage together, so that the chance of
even one false "better" or "worse" among them is 5 %.

What the checks know of the meter's drift and offset is left in D. A difference is real only if it
is real both with and without that bias b, so |b| is added to the reach of every interval, after
the limit: |D| > k u + |b|. While the meter drifts in a straight line this errs no more often than
D - b against k u, because |D| <= |D - b| + |b|. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from acquire.analysis.basis import Basis, Evaluation, evaluate
from acquire.analysis.cell import Cell
from acquire.analysis.contrast import change_of
from acquire.analysis.decision import Decision, Finding, decide, worded
from acquire.analysis.dunnett import critical, loadings, p_value
from acquire.analysis.pairing import Arm, arm_of, caveats_of
from acquire.analysis.power import smallest_difference
from acquire.analysis.student import t_factor
from acquire.analysis.uncertainty import CONFIDENCE, Budget, budget, degrees

POWER = 0.8
_AGEING = "The panel's own ageing between the stages, as far as the control zones show it."


@dataclass(frozen=True, slots=True)
class Comparison:
    """One treatment against the control at one stage; figures in the measure's unit.

    `estimate` is the net change D, `treated_change` less `control_change`. `interval` is the
    simultaneous 95 % interval, `p` the probability of such a D or a larger one, for any of the
    `family` treatments, if none differed from the control but for the known bias of the meter.
    `critical_value` is Dunnett's, at `budget.nu` degrees of freedom. `equality_interval` is the
    90 % interval that is held against the margin. `smallest_visible` is the true difference that
    this run would have shown with a probability of 80 %, also one that goes against the known
    bias: that hides its own size twice, once in D and once in the limit.
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
    p: float
    critical_value: float
    family: int
    smallest_visible: float
    decision: Decision
    is_difference_shown: bool
    budget: Budget
    sentence: str
    caveats: tuple[str, ...]


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
    budget: Budget
    own: float
    shared: float


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
    family = [c for c in found.values() if isinstance(c, _Candidate)]
    lambdas = tuple(loadings([c.own], c.shared)[0] for c in family)
    return tuple(
        _judged(c, control_arm, lambdas, stage, basis) if isinstance(c, _Candidate) else c
        for c in found.values()
    )


def _candidate(arm: Arm, control: Arm, stage: str, basis: Basis) -> _Candidate | Refusal:
    for side in (arm, control):
        if not side.pairs:
            return _refused(arm, stage, side.lacking, f"read {side.wanting} and look again")
    contrast = change_of(arm.pairs).minus(change_of(control.pairs))
    evaluation = evaluate(contrast, basis)
    if evaluation.lacking:
        return _refused(
            arm, stage, evaluation.lacking, "read each zone at least twice at each stage"
        )
    if evaluation.known.offset_unknown:
        return _refused(
            arm,
            stage,
            "treated and control zones were read under different checks, and "
            + evaluation.known.offset_unknown,
            "read control and treated zones in one sitting",
        )
    table = budget("", basis.unit, evaluation.terms)
    of_control = contrast.of(control.treatment)
    # The scatter of the control's readings and the display errors of its means are in every
    # comparison. Drift acts by the times of each side and is counted as the comparison's own,
    # which can only widen the limit.
    display = basis.resolution / math.sqrt(12) * of_control.mean_weight
    shared = basis.scatter.variance(of_control) + display**2
    return _Candidate(arm, evaluation, table, max(0.0, table.combined**2 - shared), shared)


def _judged(
    candidate: _Candidate, control: Arm, lambdas: tuple[float, ...], stage: str, basis: Basis
) -> Comparison:
    arm, u, nu = candidate.arm, candidate.budget.combined, candidate.budget.nu
    estimate = candidate.evaluation.contrast.estimate
    limit = critical(lambdas, nu, 1 - CONFIDENCE)
    table = budget(
        f"net change of {arm.name} from {basis.bare} to {stage}",
        basis.unit,
        candidate.evaluation.terms,
        coverage=(limit, _coverage_rule(limit, len(lambdas), nu)),
        cancels=(*candidate.evaluation.known.cancels, _AGEING),
        biases=candidate.evaluation.known.biases,
    )
    bias = table.bias
    narrow = t_factor(nu, 2 * CONFIDENCE - 1) * u + abs(bias)
    source = candidate.evaluation.known.source
    finding = Finding(estimate, table.expanded, narrow, basis.margin, bias, source)
    decision = decide(finding, higher_is_better=basis.higher_is_better)
    visible = smallest_difference(limit, nu, POWER) * u + 2 * abs(bias)
    return Comparison(
        treatment=arm.treatment,
        stage=stage,
        zones=arm.zones,
        control_zones=control.zones,
        estimate=estimate,
        treated_change=change_of(arm.pairs).estimate,
        control_change=change_of(control.pairs).estimate,
        interval=(estimate - table.expanded, estimate + table.expanded),
        equality_interval=(estimate - narrow, estimate + narrow),
        margin=basis.margin,
        p=p_value(max(0.0, abs(estimate) - abs(bias)) / u, lambdas, nu),
        critical_value=limit,
        family=len(lambdas),
        smallest_visible=visible,
        decision=decision,
        is_difference_shown=finding.is_difference_shown,
        budget=table,
        sentence=worded(decision, finding, f"{arm.name}, {stage}", basis.suffix, visible),
        caveats=(*caveats_of(arm, control, basis), *candidate.evaluation.known.caveats),
    )


def _coverage_rule(limit: float, family: int, nu: float) -> str:
    if family == 1:
        return (
            f"k = {limit:.2f} is Student's t for 95 % at {degrees(nu)} effective degrees of "
            "freedom: one treatment is compared with the control."
        )
    return (
        f"k = {limit:.2f} is Dunnett's two-sided limit for {family} treatments against one "
        f"control, 95 % for all together, at {degrees(nu)} effective degrees of freedom."
    )


def _refused(arm: Arm, stage: str, reason: str, next_step: str) -> Refusal:
    return Refusal(
        arm.treatment,
        stage,
        reason,
        next_step,
        f"{arm.name}, {stage}: no decision, because {reason}. Next: {next_step}.",
    )
