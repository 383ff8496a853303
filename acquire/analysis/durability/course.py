"""The gain of a zone, or of a treatment, followed over the washes: every figure of it one contrast.

The gain at a stage is the change of the zone since bare, less that of the control in the same time.
What is said of wash life holds a gain against another one: against the first gain, or a share of
it. Both have the bare readings in them, the control's and mostly the first gain's too. So nothing
is taken of two uncertainties: the difference wanted is written down as one weighted sum of cell
means, and its budget is made of that sum, in which what both sides share stands once with the
weight that is left of it. Where every side has several zones, their own spread of just this sum
stands for the scatter (`acquire.analysis.specimens.zones`). Of one zone it is the scatter of its
readings, or by how much a zone reads otherwise from stage to stage where other zones tell it
(`acquire.analysis.durability.unsteady`), whichever reaches farther. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import NamedTuple

from acquire.analysis.budget.reach import Reach, coverage_rule, reach_of
from acquire.analysis.budget.uncertainty import Budget, Distribution, Kind, Term, budget, total_bias
from acquire.analysis.cells.cell import Cell
from acquire.analysis.cells.contrast import Contrast
from acquire.analysis.cells.onesided import why_one_sided
from acquire.analysis.durability.unsteady import Unsteady
from acquire.analysis.figures import rounded, suffix
from acquire.analysis.plans.planzones import MOST_READINGS
from acquire.analysis.specimens.scatter import scatter_terms
from acquire.analysis.treatments.basis import Basis, Evaluation, evaluate

Zones = Mapping[str, Mapping[str, Cell]]
"""Cells with readings, by zone and stage."""


class Washed(NamedTuple):
    """A stage and how many washes it comes after."""

    stage: str
    washes: int


@dataclass(frozen=True, slots=True)
class Washing:
    """The stages of a measure by washes: `bare`, `start` (0 washes) and those after washing.

    `uncounted` are stages after the first washed one without a count of their own.
    """

    bare: str
    start: str
    washed: tuple[Washed, ...]
    uncounted: tuple[str, ...]

    @property
    def looks(self) -> tuple[Washed, ...]:
        """All stages at which a gain is looked at, `start` first."""
        return (Washed(self.start, 0), *self.washed)


def washing_of(stages: Sequence[str], counts: Mapping[str, int]) -> Washing | None:
    """The stages of a measure in their order; None where no wash life can be told by them.

    `stages[0]` is the bare one. The gain that washing takes away is that of the last stage before
    the first wash.
    """
    first = next((k for k, s in enumerate(stages) if counts.get(s, 0) > 0), None)
    if first is None or first < 2:
        return None
    after = stages[first:]
    return Washing(
        stages[0],
        stages[first - 1],
        tuple(Washed(s, counts[s]) for s in after if counts.get(s, 0) > 0),
        tuple(s for s in after if counts.get(s, 0) <= 0),
    )


@dataclass(frozen=True, slots=True)
class Course:
    """Some zones of one treatment beside the control zones; `sign` is −1 where lower is better.

    Without a control zone that was read (`control` empty) changes stand by themselves. `unsteady`
    is by how much a zone reads otherwise from stage to stage, None where no zones tell it.
    """

    zones: Zones
    control: Zones
    sign: float
    basis: Basis
    unsteady: Unsteady | None = None
    evaluated: dict[tuple[tuple[str, float], ...], Evaluation] = field(
        default_factory=dict, init=False, compare=False, repr=False
    )
    """What was worked out of weights of stages: several questions ask for the same ones."""

    def read_at(self, stages: Collection[str]) -> Course:
        """The course of just the zones that were read at all of these stages."""
        sides = (self.zones, self.control)
        zones, control = ({z: side[z] for z in _read(side, stages)} for side in sides)
        if (len(zones), len(control)) == (len(self.zones), len(self.control)):
            return self
        return replace(self, zones=zones, control=control)

    def lacking(self, stages: Sequence[str]) -> str:
        """Why nothing can be said of these stages, as a part of a sentence; empty where it can."""
        for who, side in (("it", self.zones), ("the control", self.control)):
            if (side or who == "it") and not _read(side, stages):
                missing = [s for s in stages if not _read(side, [s])]
                at = " and ".join(missing) or "all of these stages in one zone"
                dim = ", or too little light," if self.basis.scale.is_ratio else ""
                return f"{who} has no reading that counts{dim} at {at}"
        sides = (self.zones, self.control)
        places = [(z, s) for side in sides for z in _read(side, stages) for s in stages]
        return why_one_sided(places, self.basis.one_sided)

    def contrast(self, weights: Mapping[str, float]) -> Contrast:
        """The sum of weight times gain over stages, better upwards; weights sum to 0.

        Over the zones that were read at all these stages; ask `lacking` first.
        """
        stages = [s for s, w in weights.items() if w]
        parts = []
        for side, sign in ((self.zones, self.sign), (self.control, -self.sign)):
            read = _read(side, stages)
            for zone in read:
                for stage in stages:
                    parts.append((side[zone][stage], sign * weights[stage] / len(read)))
        return Contrast(tuple(parts))

    def distance(self, weights: Mapping[str, float], alpha: float, level: float = 0.0) -> Distance:
        """How far the weighted gains lie above `level`, with their reach at the level `alpha`."""
        if why := self.lacking([s for s, w in weights.items() if w]):
            return Distance(None, None, None, why)
        found = self._evaluate(weights)
        estimate = found.contrast.estimate - level
        if found.lacking:
            return Distance(estimate, None, None, found.lacking)
        if found.known.offset_unknown:
            why = f"its readings were taken {found.known.apart}, and {found.known.offset_unknown}"
            return Distance(estimate, None, None, why)
        reach = self._reach(found, alpha)
        half = reach.half_width(alpha) + abs(total_bias(found.known.biases))
        return Distance(estimate, reach.u, half, "")

    def _evaluate(self, weights: Mapping[str, float]) -> Evaluation:
        """The contrast of these weights with what is known of its uncertainty."""
        of = tuple([(s, w) for s, w in weights.items() if w])
        if of not in self.evaluated:
            # Of one zone it is told how that zone fared, whatever others do.
            # By its readings, or by how unsteady zones are over all stages (`_reach`).
            is_alone = len(self.zones) < 2
            basis = replace(self.basis, is_by_readings=True) if is_alone else self.basis
            self.evaluated[of] = evaluate(self.contrast(dict(of)), basis)
        return self.evaluated[of]

    def _reach(self, found: Evaluation, alpha: float) -> Reach:
        """By the scatter of readings or by how unsteady zones are, whichever reaches farther."""
        reach = reach_of(found.terms)
        if self.unsteady is None or not self.unsteady.sd or found.is_of_zones:
            return reach
        known = found.known.terms
        scatter = found.terms[: len(found.terms) - len(known)]
        other = reach_of((_of_unsteady(self.unsteady, found, self.basis, len(scatter)), *known))
        return other if other.half_width(alpha) > reach.half_width(alpha) else reach

    def readings_that_show(self, weights: Mapping[str, float], alpha: float) -> int | None:
        """How many readings of each zone and stage would show these weighted gains, if as they are.

        That is with the same estimate and scatter. None where no sensible number does, or where
        there is nothing to tell it by: ask where a `distance` has a reach.
        """
        found = self._evaluate(weights)
        contrast = found.contrast
        if found.lacking or found.is_of_zones or self.basis.blanks is not None:
            return None
        bias = abs(total_bias(found.known.biases))
        for n in range(min(c.n for c, _ in contrast.parts) + 1, MOST_READINGS + 1):
            terms = scatter_terms(contrast, self.basis.known, least=n)
            more = replace(found, terms=(*terms, *found.known.terms))
            if abs(contrast.estimate) > self._reach(more, alpha).half_width(alpha) + bias:
                return n
        return None

    def budget(self, measurand: str, weights: Mapping[str, float], alpha: float) -> Budget:
        """The table behind a `distance` that has a reach, at the same level."""
        found = self._evaluate(weights)
        reach = self._reach(found, alpha)
        return budget(
            measurand,
            self.basis.scale.unit,
            reach.terms,
            coverage=(reach.half_width(alpha) / reach.u, coverage_rule(reach, alpha, 1)),
            cancels=found.known.cancels,
            biases=found.known.biases,
        )


class Distance(NamedTuple):
    """A weighted gain less a level: `u` its standard uncertainty, `reach` its half interval.

    The known shift of the meter is in `reach` by its full size. None with `lacking` saying why.
    """

    estimate: float | None
    u: float | None
    reach: float | None
    lacking: str

    @property
    def is_above(self) -> bool:
        """Whether it is above 0 beyond its reach."""
        return self.estimate is not None and self.reach is not None and self.estimate > self.reach

    @property
    def is_below(self) -> bool:
        return self.estimate is not None and self.reach is not None and -self.estimate > self.reach


def _of_unsteady(unsteady: Unsteady, found: Evaluation, basis: Basis, readings: int) -> Term:
    """The line that stands for the scatter of each of so many means."""
    whose = "the control's zones" if unsteady.is_of_control else "zones of one treatment"
    return Term(
        "zones from stage to stage",
        Kind.A,
        unsteady.sd,
        unsteady.nu,
        found.contrast.mean_weight,
        Distribution.NORMAL,
        f"By {rounded(unsteady.sd, unsteady.sd)}{suffix(basis.scale.unit)} the mean of a zone "
        f"reads otherwise from stage to stage, as {whose} do beside what is common to each stage. "
        "The scatter of readings is in it, and would reach less far by itself. c is the root of "
        f"the sum of squares of the weights of {readings} means.",
        is_common=True,
    )


def _read(side: Zones, stages: Collection[str]) -> list[str]:
    return [zone for zone, cells in side.items() if all(s in cells for s in stages)]
