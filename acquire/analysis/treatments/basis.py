"""What every result of one measure and channel rests on, and the way from contrast to budget.

Type A terms come from the differences within the blocks of the layout
(`acquire.analysis.specimens.blocks`), else from the spread of zones where every side of a
difference has several (`acquire.analysis.specimens.zones`), else from the readings of each cell.
Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from acquire.analysis.budget.reach import coverage_of
from acquire.analysis.budget.uncertainty import CONFIDENCE, Budget, Term, budget
from acquire.analysis.cells.cell import Cell
from acquire.analysis.cells.contrast import BALANCED, Contrast
from acquire.analysis.cells.onesided import OneSided, why_one_sided
from acquire.analysis.figures import suffix
from acquire.analysis.laws.student import t_factor
from acquire.analysis.meter.common import Common, with_common
from acquire.analysis.meter.systematic import Systematic, systematic
from acquire.analysis.samples.repeatability import Repeatability
from acquire.analysis.scale import Scale
from acquire.analysis.specimens.blocks import Blocks, differences_of, residual_of, within_term
from acquire.analysis.specimens.scatter import Scatter, lacking, pooled_sd, scatter_terms
from acquire.analysis.specimens.slidespread import Blanks, slide_terms
from acquire.analysis.specimens.zonelines import is_lone_slide_told, spread_terms
from acquire.analysis.specimens.zones import Told, told_by_zones

NO_STEP = (
    "all readings, or all changes of zones, agree and no step of the display is known, so nothing "
    "tells how far they may be off"
)
"""Why there is no uncertainty where more readings would not help."""


@dataclass(frozen=True, slots=True)
class Basis:
    """`resolution` is the step of the display in `unit`; `bare` the stage changes are taken from.

    `replicates` is the number of readings planned for each zone and stage; `margin` the
    difference inside which treatments count as equal, None where the plan claims no equality.
    `unclosed` has a sentence for each stage at which the drift of some readings is not known.
    `known` is the repeatability that a study lends, None without one. `scale` is the terms in which
    differences are formed and said, `margin` among them. `blanks` are those of each stage where
    coated slides are held against blanks and nothing was read bare (`bare` is then empty); None
    where each zone is held against itself. `blocks` are the complete blocks of the layout, empty
    where it has none. `cells` are those by which zones of all treatments tell together how zones
    differ, in the terms of its differences: all but those of a treatment that is one-sided there.
    `given_up` are zones and stages of which nothing more will be read.
    `is_by_readings` where zones are not asked how they differ. `one_sided` are those
    of which presses lay out of the meter's range.
    """

    unit: str
    resolution: float
    scatter: Scatter
    bare: str
    replicates: int
    higher_is_better: bool
    margin: float | None
    scale: Scale
    unclosed: Mapping[str, str] = field(default_factory=dict)
    known: Repeatability | None = None
    blanks: Mapping[str, Blanks] | None = None
    common: tuple[Common, ...] = ()
    blocks: Blocks = field(default_factory=dict)
    cells: tuple[Cell, ...] = ()
    given_up: frozenset[tuple[str, str]] = frozenset()
    is_by_readings: bool = False
    one_sided: OneSided = field(default_factory=dict)

    @property
    def margin_text(self) -> str:
        """The margin as it is printed, with its unit; empty without one."""
        return self.scale.margin(self.margin) if self.margin is not None else ""

    @property
    def held_against(self) -> tuple[float, ...]:
        """The differences that an interval decides by: none, and what the margin ends at."""
        return (0.0,) if self.margin is None else (-self.margin, 0.0, self.margin)

    @property
    def suffix(self) -> str:
        """The unit as it follows a figure."""
        return suffix(self.unit)


@dataclass(frozen=True, slots=True)
class Evaluation:
    """A contrast with all that is known of its uncertainty.

    `lacking` says, as a part of a sentence, why there is no uncertainty; empty where `terms` are
    complete. `blocks` counts the blocks within which the difference was taken, 0 where it was not.
    `is_of_zones` is whether the type A terms say how zones differ.
    """

    contrast: Contrast
    terms: tuple[Term, ...]
    known: Systematic
    lacking: str
    blocks: int = 0
    is_of_zones: bool = False

    def budget(
        self,
        measurand: str,
        unit: str,
    ) -> Budget | None:
        """The table with the limit of its least known line, or None where uncertainty is lacking.

        Not at Welch's degrees of freedom: with 2 readings against 5 that scatter otherwise, his
        limit errs in up to 10 of 100 (`acquire.analysis.budget.reach`).
        """
        if self.lacking:
            return None
        known = self.known
        return budget(
            measurand, unit, self.terms, cancels=known.cancels, biases=known.biases,
            coverage=coverage_of(self.terms, 1 - CONFIDENCE),
        )  # fmt: skip


def _told(contrast: Contrast, basis: Basis) -> Told | None:
    """What zones tell of a difference; None where the readings say more of its single zones.

    A zone that stands alone has its own number of readings, and those whose zones tell for it
    theirs: so whichever reaches farther stands (`_half_of_readings`), and of a zone that was read
    once, beside others that were read more often, zones do not tell; nor of a film of a single
    slide, beside others that have no depth to speak of.
    """
    if basis.is_by_readings:
        return None
    told = told_by_zones(contrast, basis.resolution, basis.cells)
    if told is None or all(len(side.changes) > 1 for side in told.sides):
        return told
    if contrast.is_relative and not is_lone_slide_told(told):
        return None
    alone = {side.treatment for side in told.sides if len(side.changes) == 1}
    once = any(c.n == 1 for c, _ in contrast.parts if c.treatment in alone)
    if once and any(c.n > 1 for c, _ in contrast.parts if c.treatment not in alone):
        return None
    if lacking(contrast, basis.known):
        return told
    unit = basis.scale.unit
    zones = spread_terms(told, basis.resolution, unit, basis.unit, is_relative=contrast.is_relative)
    return told if _half(zones) >= _half_of_readings(contrast, basis.known) else None


def _half_of_readings(contrast: Contrast, known: Repeatability | None) -> float:
    """How far the readings reach beside zones: by one scatter for all, or their own if larger.

    Each cell by itself would have the limit of its few readings, so that with two of each zones
    that tell how all differ were passed over for it, and an interval was twice as wide as with one.
    """
    terms = scatter_terms(contrast, known)
    if known is not None:
        return _half(terms)
    told = [(c, w, c.summary.sd) for c, w in contrast.parts if c.summary.sd is not None]
    pooled = pooled_sd([sd for _, _, sd in told], [c.n - 1 for c, _, _ in told])
    own = math.hypot(*(t.contribution for t in terms))
    alike = math.hypot(*(w * pooled.sd / math.sqrt(c.n) for c, w, _ in told))
    return t_factor(pooled.nu, CONFIDENCE) * max(own, alike)


def _half(terms: Sequence[Term]) -> float:
    """The half width of an interval of 95 % by these lines alone."""
    u = math.hypot(*(t.contribution for t in terms))
    return coverage_of(terms, 1 - CONFIDENCE)[0] * u if u > 0 else 0.0


def is_silent(
    contrast: Contrast, of_type_a: Sequence[Term], known: Systematic, basis: Basis
) -> bool:
    """Whether neither scatter nor display nor checks tell how far readings may be off.

    The gain of a meter, like the mass of a sled, says nothing of how readings scatter.
    """
    if any(t.contribution for t in of_type_a):
        return False
    if known.is_of_gain:
        known = systematic(contrast, basis.resolution, basis.unit, basis.unclosed, is_gain_in=False)
    return not any(t.contribution for t in known.terms)


def _known(contrast: Contrast, of_type_a: Sequence[Term], basis: Basis) -> Systematic:
    return systematic(contrast, basis.resolution, basis.unit, basis.unclosed, beside=of_type_a)


def evaluate(contrast: Contrast, basis: Basis) -> Evaluation:
    """Gather the terms of a contrast whose cells all have readings."""
    if reason := why_one_sided(((c.zone, c.stage) for c, _ in contrast.parts), basis.one_sided):
        return Evaluation(contrast, (), _known(contrast, (), basis), reason)
    told = None
    within = differences_of(contrast, basis.blocks, basis.resolution)
    if basis.blanks is not None and contrast.is_relative:
        of_type_a = slide_terms(contrast, basis.blanks[contrast.parts[0][0].stage], basis.known)
    elif within is not None:
        residual = residual_of(contrast, within, basis.cells, basis.blocks)
        of_type_a = (
            within_term(
                within, residual, basis.resolution, basis.scale.unit, basis.unit,
                is_relative=contrast.is_relative,
            ),
        )  # fmt: skip
    elif told := _told(contrast, basis):
        of_type_a = spread_terms(
            told, basis.resolution, basis.scale.unit, basis.unit, is_relative=contrast.is_relative
        )
    elif reason := lacking(contrast, basis.known):
        return Evaluation(contrast, (), _known(contrast, (), basis), reason)
    else:
        is_value = abs(contrast.total_weight) > BALANCED
        of_type_a = scatter_terms(contrast, basis.known, basis.resolution if is_value else 0.0)
    known = _known(contrast, of_type_a, basis)
    terms = (*of_type_a, *known.terms)
    if is_silent(contrast, of_type_a, known, basis):
        return Evaluation(
            contrast,
            (),
            known,
            NO_STEP,
        )
    if basis.common:
        # Among what is known of the meter: treatments share it, and none has it to itself. Behind
        # the refusal above, since the mass of a sled says nothing of how pulls scatter.
        known = with_common(known, contrast, basis.common)
        terms = (*of_type_a, *known.terms)
    blocks = len(within.values) if within is not None else 0
    return Evaluation(contrast, terms, known, "", blocks, told is not None or blocks > 0)
