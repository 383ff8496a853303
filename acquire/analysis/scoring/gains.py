"""Changes as a scorecard takes them: against the bare zones, the control, or both.

Each is a contrast of cell means with the lines of its budget. Against both it is the net change of
the results, with their budget, limit and refusals. Against the bare zones or the control alone the
same lines serve, but for one: where a side has several zones, their own spread says how sure its
mean is, as it does in a net change (`acquire.analysis.specimens.zones`). Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from acquire.analysis.budget.reach import reach_of, shared_level
from acquire.analysis.budget.uncertainty import CONFIDENCE, Distribution, Kind, Term, total_bias
from acquire.analysis.cells.cell import Cell
from acquire.analysis.cells.contrast import Contrast, change_of
from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.meter.common import with_common
from acquire.analysis.meter.systematic import systematic
from acquire.analysis.results import MeasureResult
from acquire.analysis.scoring.sidelines import SPREAD, side_lines
from acquire.analysis.specimens.roundedspread import rounded_spread, rounding_half
from acquire.analysis.specimens.scatter import lacking, scatter_terms
from acquire.analysis.treatments.basis import Basis, Evaluation, evaluate, is_silent
from acquire.analysis.treatments.pairing import Arm, arm_of
from acquire.model.scorecard import Base


@dataclass(frozen=True, slots=True)
class Gain:
    """The change of one treatment at a stage, in the terms of the results (of films in logarithms).

    `shift` is what the known shifts of the meter would alone have made of it, `limit` what it has
    to be beyond to be shown: the 95 % limit for all treatments of the stage together, or the edge
    of what the plan calls equal. `expanded` is the 95 % uncertainty. Where `lacking` says why there
    is none, the figures mean nothing.
    """

    treatment: str
    estimate: float = 0.0
    shift: float = 0.0
    limit: float = 0.0
    expanded: float = 0.0
    lacking: str = ""
    contrast: Contrast | None = field(default=None, repr=False)
    evaluation: Evaluation | None = field(default=None, repr=False)

    @property
    def is_shown(self) -> bool:
        return not self.lacking and abs(self.estimate) > self.limit


def gains(
    result: MeasureResult, treatments: Sequence[tuple[str, str]], stage: str, base: Base
) -> tuple[Gain, ...]:
    """The change of each of `treatments` (id and name) at `stage`, in the order given."""
    cells: dict[str, list[Cell]] = {}
    for cell in result.judged:
        cells.setdefault(cell.treatment, []).append(cell)
    if base is Base.BOTH:
        net = [_net(result, cells, t, name, stage) for t, name in treatments]
        return _drawable(net, result.control, result.basis)
    basis = result.basis
    bare = basis.bare if base is Base.BARE else ""
    control = arm_of(result.control, "the control", cells.get(result.control, ()), stage, bare)
    found: dict[str, tuple[Contrast, Evaluation] | str] = {}
    for t, name in treatments:
        arm = arm_of(t, name, cells.get(t, ()), stage, bare)
        found[t] = _evaluated(arm, None if base is Base.BARE else control, basis)
    judged = [f for f in found.values() if not isinstance(f, str)]
    return tuple(
        Gain(t, lacking=f) if isinstance(f, str) else _judged(t, *f, basis, len(judged))
        for t, f in found.items()
    )


def _net(
    result: MeasureResult, cells: dict[str, list[Cell]], treatment: str, name: str, stage: str
) -> Gain:
    """The net change that the results have, with their limit."""
    found = result.comparison(treatment, stage)
    if found is None:
        return Gain(treatment, lacking=f"nothing was planned to be judged at {stage}")
    if not isinstance(found, Comparison):
        return Gain(treatment, lacking=found.reason)
    basis = result.basis
    arm, control = (
        arm_of(t, n, cells.get(t, ()), stage, basis.bare)
        for t, n in ((treatment, name), (result.control, "the control"))
    )
    contrast = change_of(arm.pairs).minus(change_of(control.pairs))
    reach = found.budget.expanded
    narrow = found.equality_interval[1] - found.estimate
    return Gain(
        treatment, found.estimate, found.budget.bias, _limit(reach, narrow, basis), reach, "",
        contrast, evaluate(contrast, basis),
    )  # fmt: skip


def _drawable(net: Sequence[Gain], control: str, basis: Basis) -> tuple[Gain, ...]:
    """The same with a line for each side, where the difference has but one.

    So they can be drawn with others: what they share is the control.
    """
    found = {g.treatment: g.evaluation for g in net if g.evaluation is not None}
    lines = side_lines(found, control, basis)
    return tuple(
        replace(g, evaluation=replace(e, terms=(*lines[g.treatment], *e.known.terms)))
        if g.treatment in lines and (e := found[g.treatment])
        else g
        for g in net
    )


def _evaluated(arm: Arm, control: Arm | None, basis: Basis) -> tuple[Contrast, Evaluation] | str:
    """A contrast with its lines, or why there is none."""
    for side in (arm, control):
        if side is not None and not side.pairs:
            return side.lacking
    contrast = change_of(arm.pairs)
    if control is not None:
        contrast = contrast.minus(change_of(control.pairs))
    evaluation = _by_sides(contrast, basis)
    if evaluation.lacking:
        return evaluation.lacking
    if evaluation.known.offset_unknown:
        return f"an offset of the meter is in it, and {evaluation.known.offset_unknown}"
    return contrast, evaluation


def _judged(
    treatment: str, contrast: Contrast, evaluation: Evaluation, basis: Basis, family: int
) -> Gain:
    reach = reach_of(evaluation.terms)
    shift = total_bias(evaluation.known.biases)
    half = reach.half_width(shared_level(1 - CONFIDENCE, family)) + abs(shift)
    narrow = reach.half_width(2 * (1 - CONFIDENCE)) + abs(shift)
    return Gain(
        treatment, contrast.estimate, shift, _limit(half, narrow, basis), half, "",
        contrast, evaluation,
    )  # fmt: skip


def _limit(half: float, narrow: float, basis: Basis) -> float:
    """Beyond which a change is a difference; below the margin less its reach it is shown equal."""
    return half if basis.margin is None else max(half, basis.margin - narrow)


def _by_sides(contrast: Contrast, basis: Basis) -> Evaluation:
    """The lines of each side by itself: of its zones where it has several, else of its readings.

    So the control has one line, whether a treatment has one zone or several.
    """
    sides = [contrast.of(t) for t in dict.fromkeys(c.treatment for c, _ in contrast.parts)]
    single = [side for side in sides if len({c.zone for c, _ in side.parts}) < 2]
    if (
        basis.blanks is not None
        or len(single) == len(sides)
        or any(lacking(side, basis.known) for side in single)
    ):
        return evaluate(contrast, basis)
    lines = [
        line
        for side in sides
        for line in (
            scatter_terms(side, basis.known) if side in single else (_spread(side, basis),)
        )
    ]
    known = systematic(contrast, basis.resolution, basis.unit, basis.unclosed, beside=lines)
    if is_silent(contrast, lines, known, basis):
        return evaluate(contrast, basis)
    known = with_common(known, contrast, basis.common)
    return Evaluation(contrast, (*lines, *known.terms), known, "")


def _spread(side: Contrast, basis: Basis) -> Term:
    zones: dict[str, list[tuple[Cell, float]]] = {}
    for cell, weight in side.parts:
        zones.setdefault(cell.zone, []).append((cell, weight))
    n = len(zones)
    values = [
        n * math.fsum(w * c.mean for c, w in parts if c.mean is not None)
        for parts in zones.values()
    ]
    halves = [n * rounding_half(parts, basis.resolution) for parts in zones.values()]
    found = rounded_spread(values, halves)
    treatment = side.parts[0][0].treatment
    return Term(
        f"{SPREAD}{treatment}",
        Kind.A,
        found.sd / math.sqrt(n),
        n - 1,
        1.0,
        Distribution.NORMAL,
        f"Standard deviation of its {n} zones over the root of their number. The scatter of their "
        f"readings is in it.{found.said(basis.resolution, basis.unit)}",
    )
