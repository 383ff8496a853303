"""From the record of a trial to what the analysis takes, and to its results.

Only readings that count go in; the rest is reported beside them. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from acquire.analysis.comparisons.comparison import Comparison, Refusal
from acquire.analysis.comparisons.leading import Lead, ranked
from acquire.analysis.correction import (
    CorrectedMeasure,
    Correction,
    correct,
    corrected_measure,
)
from acquire.analysis.places.standing import Standing as StandingOfAll
from acquire.analysis.results import MeasureResult, measure_results
from acquire.analysis.samples.repeatability import NOTHING
from acquire.analysis.scale import Scale
from acquire.analysis.treatments.decision import Decision
from acquire.model import DriftCorrection, Measure, Quantity, at_channel
from acquire.report.evidence.displaystep import display_step
from acquire.report.evidence.frictions import FrictionFacts, ways_of
from acquire.report.evidence.prepared import Anchor, prepared
from acquire.report.evidence.toolate import late_readings
from acquire.report.record.outofrange import one_sided
from acquire.report.record.record import ReadingRecord, Standing, TrialRecord
from acquire.report.record.spectra import names_of
from acquire.report.words.tabled import BEYOND_MARK, MARK
from acquire.trial.gone import given_up


@dataclass(frozen=True, slots=True)
class Evidence:
    """One measure at one channel: its results, all its readings, and what they were held against.

    `result` is from the readings as read, `corrected` the same with the meter's drift taken off,
    where the plan wants that. `readings` holds the left-out ones too. `resolution_source` says in
    a sentence where the step of the display is known from; `has_namesake` whether another measure
    of the plan has the same quantity and channel. `standings` remembers how all treatments stand at
    a stage once that was worked out (`acquire.report.answers.standings`). `friction` is what stands
    behind coefficients of friction, None without a sled.
    """

    measure: Measure
    channel: str
    result: MeasureResult
    readings: tuple[ReadingRecord, ...]
    anchors: tuple[Anchor, ...]
    resolution_source: str
    has_namesake: bool
    corrected: CorrectedMeasure | None = None
    friction: FrictionFacts | None = None
    late: frozenset[tuple[str, str]] = frozenset()
    """Zones at stages with a reading that was taken when that surface was gone."""
    late_ids: frozenset[int] = frozenset()
    """The numbers of these readings."""
    standings: dict[str, StandingOfAll | None] = field(
        default_factory=dict, compare=False, repr=False
    )
    places: dict[tuple[str, str], list[ReadingRecord]] = field(
        default_factory=dict, compare=False, repr=False
    )
    """The readings that count by zone and stage, once one of them was asked for."""

    def counting(self, zones: Iterable[str], stage: str) -> list[ReadingRecord]:
        """The readings of zones at a stage that count, in their order."""
        if not self.places:
            for r in self.readings:
                if r.standing is Standing.COUNTS:
                    self.places.setdefault((r.zone, r.stage), []).append(r)
        found = [r for zone in zones for r in self.places.get((zone, stage), ())]
        return sorted(found, key=_number)

    @property
    def what(self) -> str:
        """What was measured: ``Gloss at 20°``, ``Transmittance, UVA 315-400 nm, plain mean``."""
        name = self.measure.quantity.value.capitalize()
        if self.friction is not None:
            return self.scale.what.capitalize()
        if self.scale.what:
            return f"{name}, {self.scale.what}"
        return name + at_channel(self.channel)

    @property
    def title(self) -> str:
        """What was measured, for a headline; with the measure where several have the same."""
        return f"{self.what}, measure {self.measure.id}" if self.has_namesake else self.what

    def figure_of(self, reading: ReadingRecord) -> float | None:
        """A reading in the terms of the results; None where it has none, or is no part of them."""
        if self.friction is not None:
            return self.friction.figures.get(reading.id)
        return None if reading.value is None else float(reading.value)

    def equal_within(self, decision: str) -> str:
        """A decision as a table has it, which names the margin: ``shown equal within ±1 GU``."""
        if decision != Decision.EQUAL:
            return decision
        return f"{decision} within {self.result.basis.margin_text}"

    def late_mark(self, stage: str, zones: Iterable[str]) -> str:
        """What stands beside a figure of zones at a stage if one was read too late; else empty."""
        stages = (stage, self.result.bare)
        return MARK if any((z, s) in self.late for z in zones for s in stages) else ""

    def change_mark(self, stage: str, zone: str) -> str:
        """What stands beside the change of a zone to a stage: a reading too late, a press beyond.

        Empty where it is as any other.
        """
        found = self.result.basis.one_sided
        is_beyond = any((zone, s) in found for s in (stage, self.result.bare))
        return _marks(self.late_mark(stage, (zone,)), is_beyond=is_beyond)

    def mean_mark(self, zone: str, stage: str) -> str:
        """The same beside the mean of a zone at a stage."""
        is_beyond = (zone, stage) in self.result.basis.one_sided
        return _marks(self.late_mark_at(zone, stage), is_beyond=is_beyond)

    def late_mark_of(self, reading_id: int) -> str:
        """What stands beside a reading that was taken too late; else empty."""
        return MARK if reading_id in self.late_ids else ""

    def late_mark_at(self, zone: str, stage: str) -> str:
        """What stands beside a mean of a zone at a stage with such a reading; else empty."""
        return MARK if (zone, stage) in self.late else ""

    @property
    def scale(self) -> Scale:
        """In which terms differences are said: in the measure's unit, or as ratios."""
        return self.result.basis.scale

    def deciding(self, stage: str) -> MeasureResult:
        """The result that the decisions at a stage are taken from.

        The corrected one where the plan wants it and every reading of the stage and of the bare
        one could be corrected; else that of the readings as read.
        """
        found = self.corrected.result if self.corrected is not None else None
        if found is None or not any(c.stage == stage for c in found.comparisons):
            return self.result
        return found

    def is_corrected(self, stage: str) -> bool:
        return self.deciding(stage) is not self.result

    def named(self, stage: str) -> str:
        """The stage as it stands beside its decisions: ``applied, corrected for drift``."""
        return f"{stage}, corrected for drift" if self.is_corrected(stage) else stage

    @property
    def decided(self) -> tuple[Comparison | Refusal, ...]:
        """The comparisons of all stages that decide."""
        stages = dict.fromkeys(c.stage for c in self.result.comparisons)
        return tuple(c for s in stages for c in self.deciding(s).comparisons if c.stage == s)

    def ranked(self, stage: str) -> tuple[Comparison | Refusal, ...]:
        """All treatments at a stage, best net change first, those without a decision last."""
        return ranked(
            [c for c in self.deciding(stage).comparisons if c.stage == stage],
            higher_is_better=self.measure.higher_is_better,
        )

    def leads(self, stage: str) -> tuple[Lead, ...]:
        """The best treatment of a stage against each other one."""
        return tuple(x for x in self.deciding(stage).leads if x.stage == stage)

    @property
    def read_stages(self) -> tuple[str, ...]:
        """The stages at which at least one reading counts, in the order of the plan."""
        read = {v.cell.stage for v in self.result.levels if v.cell.n}
        return tuple(s for s in self.result.stages if s in read)

    @property
    def unread_stages(self) -> tuple[str, ...]:
        read = self.read_stages
        return tuple(s for s in self.result.stages if s not in read)


def evidence_of(record: TrialRecord) -> tuple[Evidence, ...]:
    """Results of every measure of the plan at each of its channels, in the plan's order."""
    late = frozenset(late_readings(record))
    return tuple(e for measure in record.plan.measures for e in _of_measure(record, measure, late))


def corrections_of(record: TrialRecord) -> dict[tuple[str, str], Correction]:
    """The corrected readings of every measure (id) and channel that the plan wants corrected."""
    return {
        (measure.id, channel): correct(measure, channel, found.samples, found.brackets)
        for measure in record.plan.measures
        if measure.drift_correction is not DriftCorrection.NONE
        for found in (prepared(record, measure),)
        for channel in measure.channels
    }


def _of_measure(record: TrialRecord, measure: Measure, late: frozenset[int]) -> Iterable[Evidence]:
    mine, counting, samples, brackets, anchors, zeros = prepared(record, measure)
    step, source = display_step(record, measure, counting)
    lent = record.lent.get(measure.id, NOTHING)
    bands = _bands(record, measure, counting)
    beyond = one_sided(record, measure.id)
    for way in ways_of(record, measure, samples, brackets, zeros):
        for result in measure_results(
            record.plan, measure, way.samples, way.brackets, float(step), lent, bands, way.friction,
            given_up(record.work.given_up), beyond,
        ):  # fmt: skip
            yield Evidence(
                measure,
                result.channel,
                result,
                tuple(r for r in mine if r.channel == result.channel),
                tuple(anchors.get(result.channel, ())),
                source,
                any(
                    other.quantity is measure.quantity and result.channel in other.channels
                    for other in record.plan.measures
                    if other is not measure
                ),
                None
                if measure.drift_correction is DriftCorrection.NONE
                else corrected_measure(
                    record.plan, measure, result.channel, way.samples, way.brackets, float(step),
                    lent, bands, way.friction, given_up(record.work.given_up),
                    beyond,
                ),
                way.facts,
                frozenset(
                    (r.zone, r.stage) for r in mine if r.id in late and r.channel == result.channel
                ),
                frozenset(r.id for r in mine if r.id in late and r.channel == result.channel),
            )  # fmt: skip


def _marks(late: str, *, is_beyond: bool) -> str:
    return ", ".join(filter(None, (late, BEYOND_MARK if is_beyond else "")))


def _number(reading: ReadingRecord) -> int:
    return reading.id


def _bands(
    record: TrialRecord, measure: Measure, counting: Sequence[ReadingRecord]
) -> dict[str, str]:
    """Bands of a transmittance with their weights, where spectra tell them."""
    if measure.quantity is not Quantity.TRANSMITTANCE or not record.spectra:
        return {}
    values = [(r.id, r.channel, float(r.value)) for r in counting if r.value is not None]
    return names_of(measure.channels, values, record.spectra)
