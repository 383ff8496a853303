"""The way in: from the readings of one measure to everything that is said about them.

Plan, readings and checks in, one `MeasureResult` for each channel out. Report, export and
command line print these objects as they are; every text in them is a sentence for a reader who
was not there. Never drops a reading, never raises for too little data: what cannot be said is
refused with a reason. Figures carry full precision and are rounded where they are printed
(`acquire.analysis.figures`). Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from acquire.analysis.cells.cell import Cell, gather
from acquire.analysis.cells.closing import unclosed_sentences
from acquire.analysis.cells.onesided import OneSided, telling
from acquire.analysis.cells.relative import relative
from acquire.analysis.checks.bracket import Bracket
from acquire.analysis.comparisons.comparison import Comparison, Refusal, compare
from acquire.analysis.comparisons.leading import Lead, leads
from acquire.analysis.comparisons.reordering import in_turn, on_order
from acquire.analysis.figures import suffix
from acquire.analysis.meter.bentreadings import in_readings as bend_in_readings
from acquire.analysis.meter.common import Common
from acquire.analysis.meter.friction import Friction, brought
from acquire.analysis.meter.straylight import in_readings as stray_in_readings
from acquire.analysis.rules.advice import on_channel, on_losses
from acquire.analysis.rules.filmrules import film_rules
from acquire.analysis.rules.frictionrules import friction_advice, friction_rules
from acquire.analysis.rules.rules import rules_of
from acquire.analysis.rules.slideadvice import slide_advice
from acquire.analysis.rules.straightness import straight_rules
from acquire.analysis.samples.repeatability import NOTHING, Lent, is_exceeded, rule_of
from acquire.analysis.samples.sample import Sample
from acquire.analysis.scale import Scale, ratio_scale
from acquire.analysis.specimens.blocks import complete_blocks
from acquire.analysis.specimens.scatter import Scatter, scatter_of
from acquire.analysis.specimens.slidespread import blanks_of
from acquire.analysis.transmission.bandnames import band_name
from acquire.analysis.treatments.basis import Basis
from acquire.analysis.treatments.change import Change, change_in
from acquire.analysis.treatments.level import Level, level_of
from acquire.model import Measure, Order, Plan, Quantity
from acquire.units import symbol

__all__ = ["Bracket", "MeasureResult", "Sample", "measure_results"]

NO_NAMES: Mapping[str, str] = {}
NO_REASONS: Mapping[int, str] = {}
NOWHERE: Mapping[str, OneSided] = {}


@dataclass(frozen=True, slots=True)
class MeasureResult:
    """All results of one measure at one channel, in `unit` (printed as `symbol`).

    `levels` holds every zone at every stage of the measure, zone by zone in the order of the
    plan, unread ones included; `changes` every zone at every stage after `bare`;
    `comparisons` every treatment at each of those stages, stage by stage, refused ones included,
    and none where the measure is not planned for `bare`;
    `leads` the treatment with the best net change of each stage against each other one.
    Of a transmittance levels are in percent of the open beam, and changes, comparisons and leads
    are ratios: their figures are natural logarithms, said by the `film` of each comparison and by
    the scale of `basis`. Where it is not planned for `bare` the control's zones are blanks of the
    same box, and there are comparisons without changes.
    `rules` says how the decisions were reached, `advice` what the reader may do better,
    `caveats` what holds for the whole table. `basis` is what further questions are answered by:
    all treatments against one another, and their chances to be first
    (`acquire.analysis.places.standing`); `judged` are the cells that changes and comparisons are
    made of, those of `levels` or, of a transmittance, the same in logarithms.
    """

    measure: str
    quantity: Quantity
    channel: str
    unit: str
    symbol: str
    resolution: float
    bare: str
    stages: tuple[str, ...]
    control: str
    scatter: Scatter
    levels: tuple[Level, ...]
    changes: tuple[Change, ...]
    comparisons: tuple[Comparison | Refusal, ...]
    leads: tuple[Lead, ...]
    rules: tuple[str, ...]
    advice: tuple[str, ...]
    caveats: tuple[str, ...]
    basis: Basis
    judged: tuple[Cell, ...]

    def level(self, zone: str, stage: str) -> Level | None:
        return next((v for v in self.levels if (v.cell.zone, v.cell.stage) == (zone, stage)), None)

    def comparison(self, treatment: str, stage: str) -> Comparison | Refusal | None:
        return next(
            (c for c in self.comparisons if (c.treatment, c.stage) == (treatment, stage)), None
        )


def measure_results(
    plan: Plan,
    measure: Measure,
    samples: Iterable[Sample],
    brackets: Sequence[Bracket],
    resolution: float,
    lent: Lent = NOTHING,
    bands: Mapping[str, str] = NO_NAMES,
    friction: Friction | None = None,
    given_up: Iterable[tuple[str, str]] = (),
    one_sided: Mapping[str, OneSided] = NOWHERE,
) -> tuple[MeasureResult, ...]:
    """Results of `measure`, one for each of its channels in their order.

    `samples` are the readings of this measure that count, of all channels; their order does
    not matter. `brackets` are the checks around them. `resolution` is the step of the display in
    the measure's unit. `lent` is what studies of the instruments say of its scatter. `bands` names
    bands with their weights by channel, where these are not the meter's own. Of a measure with a
    sled readings, checks and step are forces in newton all the same, and results are coefficients:
    by `friction`, or else the static one of forces as they came. `given_up` are zones and stages
    of which nothing more will be read: nobody is told to. `one_sided` are those of which presses
    lay out of the meter's range, by channel. Raises ValueError where the step is negative.
    """
    if not resolution >= 0:
        raise ValueError(f"the step of the display is 0 or more, got {resolution}")
    everything = list(samples)
    if friction is None and measure.sled is not None:
        friction = Friction(measure.sled)
    return tuple(
        _at_channel(
            plan, measure, channel, [s for s in everything if s.channel == channel],
            brackets, resolution, lent, bands.get(channel, ""), friction, frozenset(given_up),
            one_sided.get(channel, {}),
        )
        for channel in measure.channels or ("",)
    )  # fmt: skip


def _at_channel(
    plan: Plan,
    measure: Measure,
    channel: str,
    samples: Sequence[Sample],
    brackets: Sequence[Bracket],
    resolution: float,
    lent: Lent,
    band: str,
    friction: Friction | None,
    given_up: frozenset[tuple[str, str]],
    one_sided: OneSided,
) -> MeasureResult:
    unit, lifted = measure.unit, NO_REASONS
    common: tuple[Common, ...] = ()
    if friction is not None:
        samples, brackets, resolution, common, lent, lifted = brought(
            friction, samples, brackets, resolution, lent
        )
        unit = friction.scale.unit
    bare = plan.stages[0]
    control = next((t.id for t in plan.treatments if t.is_control), "")
    zones = [(z.id, z.treatment) for z in plan.zones]
    cells = gather(zones, measure.stages, samples, brackets, resolution)
    known = lent.known.get(channel)
    exceeded = known is not None and is_exceeded(known, *_scatters(cells))
    if known is not None and not exceeded:
        cells = gather(zones, measure.stages, samples, brackets, resolution, known)
    judged = cells
    scale = Scale(unit) if friction is None else friction.scale
    if measure.quantity is Quantity.TRANSMITTANCE:
        judged = tuple(map(relative, cells))
        scale = ratio_scale(band or band_name(channel))
        common = bend_in_readings(samples, brackets, suffix(unit))
        if measure.stray_light is not None:
            common = (stray_in_readings(measure.stray_light), *common)
    of_blanks = scale.is_ratio and bare not in measure.stages
    basis = Basis(
        unit=unit,
        resolution=resolution,
        scatter=scatter_of(cells, unit, None if exceeded else known),
        bare="" if of_blanks else bare,
        replicates=measure.replicates,
        higher_is_better=measure.higher_is_better,
        margin=scale.of_plan(float(measure.margin)) if measure.margin is not None else None,
        scale=scale,
        unclosed=unclosed_sentences(cells),
        known=None if exceeded else known,
        blanks=blanks_of(judged, control, resolution) if of_blanks else None,
        common=common,
        blocks=complete_blocks(plan),
        cells=telling(judged, one_sided),
        given_up=given_up,
        one_sided=one_sided,
    )
    levels = tuple(level_of(cell, basis) for cell in cells)
    changes = _changes(plan, judged, basis)
    comparisons = _comparisons(plan, measure, judged, basis)
    advice: list[str] = []
    is_corrected = any(b.is_corrected for b in brackets)
    if measure.order is Order.BY_ZONE and not is_corrected and any(b.drift for b in brackets):
        dealt = in_turn(samples, [z for z, _ in zones], brackets)
        in_order = gather(zones, measure.stages, dealt, brackets, resolution)
        cells_in_turn = tuple(map(relative, in_order)) if scale.is_ratio else in_order
        reordered = _comparisons(
            plan, measure, cells_in_turn, replace(basis, cells=telling(cells_in_turn, one_sided))
        )
        advice.extend(on_order(comparisons, reordered, _names(plan), scale))
    if measure.quantity is Quantity.GLOSS:
        if channel == "60":
            elsewhere = {
                angle: m.id
                for m in plan.measures
                if m.quantity is Quantity.GLOSS and m.id != measure.id
                for angle in m.channels
            }
            advice.extend(on_channel(levels, measure.channels, elsewhere))
        advice.extend(on_losses(changes, control))
    if scale.is_ratio:
        without = control if of_blanks else ""
        slides = [v for v in levels if v.cell.stage == bare or v.cell.treatment == without]
        advice.extend(slide_advice(channel, slides, comparisons, _names(plan), scale))
    if friction is not None:
        advice.extend(friction_advice(friction, levels, comparisons, _names(plan)))
    said = [text for v in levels for text in v.caveats] + [t for c in changes for t in c.caveats]
    return MeasureResult(
        measure=measure.id,
        quantity=measure.quantity,
        channel=channel,
        unit=unit,
        symbol=symbol(unit),
        resolution=resolution,
        bare=bare,
        stages=measure.stages,
        control=control,
        scatter=basis.scatter,
        levels=levels,
        changes=changes,
        comparisons=comparisons,
        leads=_leads(plan, comparisons, judged, basis),
        rules=(
            *film_rules(basis),
            *(friction_rules(friction, lifted) if friction is not None else ()),
            *rules_of(basis, len(plan.treatments) - 1, is_corrected=is_corrected),
            *straight_rules(basis),
            *rule_of(known, lent.missing.get(channel, ""), unit, exceeded=exceeded),
        ),
        advice=tuple(advice),
        caveats=tuple(dict.fromkeys(said)),
        basis=basis,
        judged=judged,
    )


def _comparisons(
    plan: Plan, measure: Measure, cells: Sequence[Cell], basis: Basis
) -> tuple[Comparison | Refusal, ...]:
    if basis.blanks is None and basis.bare not in measure.stages:
        # Not a matter of what was read: there is no change to judge, whatever is read.
        return ()
    by_treatment = _by_treatment(cells)
    control = next((t.id for t in plan.treatments if t.is_control), "")
    treated = [(t.id, t.name or t.id) for t in plan.treatments if not t.is_control]
    return tuple(
        c
        for stage in measure.stages
        if stage != basis.bare
        for c in compare(treated, control, by_treatment, stage, basis)
    )


def _scatters(cells: Sequence[Cell]) -> tuple[list[float], list[float]]:
    """Standard deviations of the cells that were read twice, and their degrees of freedom."""
    found = [(c.summary.sd, float(c.n - 1)) for c in cells if c.summary.sd is not None]
    return [sd for sd, _ in found], [nu for _, nu in found]


def _by_treatment(cells: Sequence[Cell]) -> dict[str, list[Cell]]:
    found: dict[str, list[Cell]] = {}
    for cell in cells:
        found.setdefault(cell.treatment, []).append(cell)
    return found


def _leads(
    plan: Plan, found: Sequence[Comparison | Refusal], cells: Sequence[Cell], basis: Basis
) -> tuple[Lead, ...]:
    names, by_treatment = _names(plan), _by_treatment(cells)
    return tuple(
        lead
        for stage in dict.fromkeys(c.stage for c in found)
        for lead in leads([c for c in found if c.stage == stage], names, by_treatment, basis)
    )


def _names(plan: Plan) -> dict[str, str]:
    return {t.id: t.name or t.id for t in plan.treatments}


def _changes(plan: Plan, cells: Sequence[Cell], basis: Basis) -> tuple[Change, ...]:
    names = _names(plan)
    bare = {c.zone: c for c in cells if c.stage == basis.bare}
    return tuple(
        change_in(bare[c.zone], c, names.get(c.treatment, c.treatment), basis)
        for c in cells
        if c.stage != basis.bare and c.zone in bare
    )
