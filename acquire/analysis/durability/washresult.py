"""All that one measure says of wash life: what each treatment keeps, how long it lasts, who longer.

From the results of a measure, whose cells and budgets it goes on from, and the counts and the
criterion of the plan. All intervals and verdicts of a measure are held at one level, at which those
of all treatments at one count hold together at 95 % (Z. Sidak, J. Amer. Statist. Assoc. 62 (1967)
626, from memory), and so do the lives of a zone of each: where treatments have one zone each, one
that outlived another by its interval did so whatever the pair. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from acquire.analysis.budget.reach import shared_level
from acquire.analysis.budget.uncertainty import CONFIDENCE
from acquire.analysis.cells.cell import Cell
from acquire.analysis.cells.relative import is_dark, read_mean
from acquire.analysis.durability.course import Course, Washed, Washing, Zones, washing_of
from acquire.analysis.durability.criterion import Criterion, criterion_of
from acquire.analysis.durability.ending import ZoneLife, zone_life
from acquire.analysis.durability.keeping import first_gain
from acquire.analysis.durability.outliving import LivesCompared, compare_lives
from acquire.analysis.durability.unsteady import Unsteady, unsteady_of
from acquire.analysis.durability.washlife import WashLife, wash_life
from acquire.analysis.durability.wearing import Wear, wear_of
from acquire.analysis.results import MeasureResult
from acquire.analysis.scale import PERCENT
from acquire.analysis.transmission.film import LEAST_BLANK
from acquire.model import Measure, Plan, Quantity, Treatment

MOST_COMPARED = 24
"""Treatments of which each pair is compared; of more the pairs would be a page by themselves."""


@dataclass(frozen=True, slots=True)
class TreatmentLife:
    """One treatment: how it wears, and where the plan has a criterion the lives of its zones.

    `life` is that of all zones with a life together, None where no zone has one. `shown` is the
    name, with the id where another treatment has the same.
    """

    treatment: str
    name: str
    shown: str
    wear: Wear
    zones: tuple[ZoneLife, ...]
    life: WashLife | None


@dataclass(frozen=True, slots=True)
class WashResult:
    """One measure and channel over the washes, in `unit`, in the order of the plan.

    `criterion` is None where the plan has none; there are no lives then. `has_control` is whether
    gains are less the change of the control. `alpha` is the level of each interval, `together` how
    many treatments hold jointly at 95 %. `compared` is None where fewer than two treatments have a
    life, or more than are compared. `unsteady` is by how much a zone reads otherwise from stage to
    stage, None where no zones tell it. `washing` has all counts of the plan, `looked` those of them
    at which a zone was read, one or more.
    """

    result: MeasureResult
    washing: Washing
    looked: tuple[Washed, ...]
    criterion: Criterion | None
    has_control: bool
    alpha: float
    together: int
    treatments: tuple[TreatmentLife, ...]
    compared: LivesCompared | None
    unsteady: Unsteady | None = None

    @property
    def is_film(self) -> bool:
        """Whether gains are of logarithms of transmittances."""
        return self.result.basis.scale.is_ratio


def wash_result(plan: Plan, measure: Measure, result: MeasureResult) -> WashResult | None:
    """What `result` says of wash life; None where plan or measure have no washes to tell it by.

    None, too, where no stage has been read after washing or before it. Of a transmittance every
    slide is its own blank, so those against blanks of a box have none.
    """
    washing = washing_of(measure.stages, dict(plan.washes))
    if washing is None or measure.stages[0] != plan.stages[0]:
        return None
    cells = {t.id: _cells(result, t.id) for t in plan.treatments}
    read = {stage for side in cells.values() for zone in side.values() for stage in zone}
    looked = tuple(x for x in washing.washed if x.stage in read)
    if not looked:
        return None
    control = cells.get(result.control, {})
    is_read = any(washing.bare in c and len(c) > 1 for c in control.values())
    sign = 1.0 if measure.higher_is_better else -1.0
    treated = [t for t in plan.treatments if not t.is_control]
    together = max(1, len(treated))
    alpha = shared_level(1 - CONFIDENCE, together)
    end = measure.end_of_life
    criterion = (
        criterion_of(
            end,
            higher_is_better=measure.higher_is_better,
            is_film=measure.quantity is Quantity.TRANSMITTANCE,
        )
        if end is not None
        else None
    )
    found = []
    unsteady = unsteady_of(
        control, (c for side in cells.values() for zone in side.values() for c in zone.values())
    )
    for t in treated:
        course = Course(cells[t.id], control if is_read else {}, sign, result.basis, unsteady)
        own = [z.id for z in plan.zones if z.treatment == t.id]
        zones = _lives(t.id, own, course, washing, criterion, alpha)
        lives = [z.life for z in zones if z.life is not None]
        found.append(
            TreatmentLife(
                t.id, t.name or t.id, _shown(t, treated),
                wear_of(t.id, course, washing, alpha), zones, wash_life(lives) if lives else None,
            )
        )  # fmt: skip
    return WashResult(
        result, washing, looked, criterion, is_read, alpha, together, tuple(found),
        _compared(found), unsteady,
    )  # fmt: skip


def _cells(result: MeasureResult, treatment: str) -> Zones:
    """The cells with readings of one treatment, by zone and stage, in the terms of differences."""
    found: dict[str, dict[str, Cell]] = {}
    for cell in result.judged:
        if cell.treatment == treatment and cell.n and not _is_too_dim(cell, result):
            found.setdefault(cell.zone, {})[cell.stage] = cell
    return found


def _is_too_dim(cell: Cell, result: MeasureResult) -> bool:
    """Whether so little light came through a slide that no ratio is to be taken of it or to it."""
    if not result.basis.scale.is_ratio:
        return False
    mean = read_mean(cell)
    return is_dark(mean) or (cell.stage == result.bare and mean < PERCENT * LEAST_BLANK)


def _lives(
    treatment: str,
    zones: Sequence[str],
    course: Course,
    washing: Washing,
    criterion: Criterion | None,
    alpha: float,
) -> tuple[ZoneLife, ...]:
    if criterion is None:
        return ()
    whole = first_gain(course, washing, alpha) if len(zones) > 1 else None
    return tuple(
        zone_life(
            zone,
            treatment,
            replace(course, zones={zone: course.zones.get(zone, {})}),
            washing,
            criterion,
            alpha,
            whole,
        )
        for zone in zones
    )


def _compared(found: Sequence[TreatmentLife]) -> LivesCompared | None:
    lives = {
        t.shown: [z.life for z in t.zones if z.life is not None]
        for t in found
        if t.life is not None
    }
    return compare_lives(lives) if 2 <= len(lives) <= MOST_COMPARED else None


def _shown(one: Treatment, every: Sequence[Treatment]) -> str:
    """The name, with the id where two treatments have the same."""
    name = one.name or one.id
    return name if sum((t.name or t.id) == name for t in every) == 1 else f"{name} ({one.id})"
