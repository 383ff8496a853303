"""From the record of a trial to what the analysis takes, and to its results.

Only readings that count go in; the rest is reported beside them. Which check covers which reading
the store has decided already, so no time is asked again here. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import NamedTuple

from acquire.analysis.bracket import EXACT, Bracket, reading_doubt
from acquire.analysis.comparison import Comparison, Refusal
from acquire.analysis.correction import (
    CorrectedMeasure,
    Correction,
    correct,
    corrected_measure,
)
from acquire.analysis.leading import Lead, ranked
from acquire.analysis.repeatability import NOTHING
from acquire.analysis.results import MeasureResult, measure_results
from acquire.analysis.sample import Sample
from acquire.analysis.scale import Scale
from acquire.analysis.standing import Standing as StandingOfAll
from acquire.analysis.uncertainty import Combined
from acquire.model import DriftCorrection, Measure, Quantity, at_channel
from acquire.report.displaystep import display_step
from acquire.report.record import CheckRecord, PieceRecord, ReadingRecord, Standing, TrialRecord
from acquire.report.spectra import names_of
from acquire.report.unchecked import unchecked_stretches
from acquire.units import convert


@dataclass(frozen=True, slots=True)
class CoveredBracket(Bracket):
    """The checks around just the readings `covers` (ids) of one channel, at one stage or several.

    Two meters may be at work in the same minutes: a reading belongs to the checks of its own.
    """

    covers: frozenset[int] = frozenset()

    def holds(self, sample: Sample) -> bool:
        return sample.reading_id in self.covers


@dataclass(frozen=True, slots=True)
class Anchor:
    """The reference piece that stands for the meter's drift and offset around some readings.

    `closing` is None where no passed check closed the bracket or it did not read the piece.
    """

    check: CheckRecord
    opening: PieceRecord
    closing_check: CheckRecord | None
    closing: PieceRecord | None


@dataclass(frozen=True, slots=True)
class Evidence:
    """One measure at one channel: its results, all its readings, and what they were held against.

    `result` is from the readings as read, `corrected` the same with the meter's drift taken off,
    where the plan wants that. `readings` holds the left-out ones too. `resolution_source` says in
    a sentence where the step of the display is known from; `has_namesake` whether another measure
    of the plan has the same quantity and channel. `standings` remembers how all treatments stand at
    a stage once that was worked out (`acquire.report.standings`).
    """

    measure: Measure
    channel: str
    result: MeasureResult
    readings: tuple[ReadingRecord, ...]
    anchors: tuple[Anchor, ...]
    resolution_source: str
    has_namesake: bool
    corrected: CorrectedMeasure | None = None
    standings: dict[str, StandingOfAll | None] = field(
        default_factory=dict, compare=False, repr=False
    )

    @property
    def what(self) -> str:
        """What was measured: ``Gloss at 20°``, ``Transmittance, UVA 315-400 nm, plain mean``."""
        name = self.measure.quantity.value.capitalize()
        if self.scale.what:
            return f"{name}, {self.scale.what}"
        return name + at_channel(self.channel)

    @property
    def title(self) -> str:
        """What was measured, for a headline; with the measure where several have the same."""
        return f"{self.what}, measure {self.measure.id}" if self.has_namesake else self.what

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
    return tuple(e for measure in record.plan.measures for e in _of_measure(record, measure))


def corrections_of(record: TrialRecord) -> dict[tuple[str, str], Correction]:
    """The corrected readings of every measure (id) and channel that the plan wants corrected."""
    return {
        (measure.id, channel): correct(measure, channel, found.samples, found.brackets)
        for measure in record.plan.measures
        if measure.drift_correction is not DriftCorrection.NONE
        for found in (_prepared(record, measure),)
        for channel in measure.channels
    }


class _Prepared(NamedTuple):
    """What the analysis takes of one measure; `anchors` by channel."""

    readings: list[ReadingRecord]
    counting: list[ReadingRecord]
    samples: list[Sample]
    brackets: list[CoveredBracket]
    anchors: dict[str, list[Anchor]]


def _prepared(record: TrialRecord, measure: Measure) -> _Prepared:
    mine = [r for r in record.readings if r.measure == measure.id]
    counting = [r for r in mine if r.standing is Standing.COUNTS]
    origin_ns = min((r.at_utc_ns for r in record.readings), default=0)
    treatments = {zone.id: zone.treatment for zone in record.plan.zones}
    unchecked = unchecked_stretches(record)
    samples = [_sample(r, treatments[r.zone], origin_ns, unchecked.get(r.id, "")) for r in counting]
    brackets: list[CoveredBracket] = []
    anchors: dict[str, list[Anchor]] = {}
    for group in _groups(counting):
        anchor = _anchor(record, group, measure.drift_correction)
        brackets.append(_bracket(record, group, anchor, origin_ns))
        if anchor is not None and anchor not in anchors.setdefault(group[0].channel, []):
            anchors[group[0].channel].append(anchor)
    return _Prepared(mine, counting, samples, brackets, anchors)


def _of_measure(record: TrialRecord, measure: Measure) -> Iterable[Evidence]:
    mine, counting, samples, brackets, anchors = _prepared(record, measure)
    step, source = display_step(record, measure, counting)
    lent = record.lent.get(measure.id, NOTHING)
    bands = _bands(record, measure, counting)
    results = measure_results(record.plan, measure, samples, brackets, float(step), lent, bands)
    for result in results:
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
                record.plan, measure, result.channel, samples, brackets, float(step), lent, bands
            ),
        )


def _bands(
    record: TrialRecord, measure: Measure, counting: Sequence[ReadingRecord]
) -> dict[str, str]:
    """Bands of a transmittance with their weights, where spectra tell them."""
    if measure.quantity is not Quantity.TRANSMITTANCE or not record.spectra:
        return {}
    values = [(r.id, r.channel, float(r.value)) for r in counting if r.value is not None]
    return names_of(measure.channels, values, record.spectra)


def _sample(reading: ReadingRecord, treatment: str, origin_ns: int, stretch: str) -> Sample:
    assert reading.value is not None  # a reading of a run has one: the schema says so
    return Sample(
        reading.zone,
        treatment,
        reading.stage,
        reading.replicate,
        reading.channel,
        float(reading.value),
        _seconds(reading.at_utc_ns, origin_ns),
        reading.id,
        stretch,
    )


def _groups(readings: Sequence[ReadingRecord]) -> list[list[ReadingRecord]]:
    """Readings that share channel and the checks around them; unchecked ones are none.

    Two stages under the same checks share the error of the meter, so they are one group.
    """
    found: dict[tuple[str, int, int | None], list[ReadingRecord]] = {}
    for r in readings:
        if r.check_id is not None and r.bracket != "unchecked":
            found.setdefault((r.channel, r.check_id, r.closing_check_id), []).append(r)
    return list(found.values())


def _anchor(
    record: TrialRecord, group: Sequence[ReadingRecord], how: DriftCorrection
) -> Anchor | None:
    """The piece of the opening check whose certified value lies nearest to the readings' mean.

    A gain is shown only by a piece whose certified value is not 0, if there is one.
    """
    first = group[0]
    check = record.check(first.check_id)
    if check is None:
        return None
    values = [r.value for r in group if r.value is not None]
    mean = sum(values, Decimal(0)) / len(values)
    read = [p for p in check.pieces if p.channel == first.channel and p.is_judged]
    if not read:
        return None
    if how is DriftCorrection.GAIN:
        read = [p for p in read if p.certified > 0] or read
    # Of two equally near the higher one: its drift is the larger where the scale has drifted.
    piece = min(read, key=lambda p: (abs(p.certified - mean), -p.certified))
    closing = record.check(first.closing_check_id)
    return Anchor(
        check, piece, closing, closing.piece(piece.piece, first.channel) if closing else None
    )


def _bracket(
    record: TrialRecord, group: Sequence[ReadingRecord], anchor: Anchor | None, origin_ns: int
) -> CoveredBracket:
    first = group[0]
    check = record.check(first.check_id)
    latest_ns = max(r.at_utc_ns for r in group)
    opened_ns = check.judged_utc_ns if check is not None else None
    opening_at_s = _seconds(first.at_utc_ns if opened_ns is None else opened_ns, origin_ns)
    closing_at_s = drift = opening_deviation = certified = None
    certificate_u = 0.0
    opening_doubt = closing_doubt = EXACT
    if anchor is not None:
        opening_deviation = float(anchor.opening.deviation)
        certified = float(anchor.opening.certified)
        opening_doubt = _doubt(anchor.opening, anchor.check)
        if anchor.opening.certificate is not None:
            certificate_u = float(anchor.opening.certificate.standard_uncertainty)
        if anchor.closing is not None and anchor.closing_check is not None:
            drift = float(anchor.closing.mean - anchor.opening.mean)
            closing_doubt = _doubt(anchor.closing, anchor.closing_check)
            # A clock that was set back after the last reading must not put it behind the close.
            closed_ns = max(anchor.closing_check.judged_utc_ns or 0, latest_ns)
            closing_at_s = _seconds(closed_ns, origin_ns)
    return CoveredBracket(
        stage=first.stage,
        opening_at_s=opening_at_s,
        closing_at_s=closing_at_s,
        drift=drift,
        tile_u=certificate_u,
        channel=first.channel,
        opening_deviation=opening_deviation,
        is_broken=first.bracket == "broken",
        opening_doubt=opening_doubt,
        closing_doubt=closing_doubt,
        piece=anchor.opening.piece if anchor is not None else "",
        certified=certified,
        opening_check=first.check_id,
        closing_check=first.closing_check_id,
        covers=frozenset(r.id for r in group),
    )


def _doubt(piece: PieceRecord, check: CheckRecord) -> Combined:
    """How well the check read the piece, in the unit of the piece."""
    step = convert(check.resolution, check.unit, piece.unit) if check.resolution > 0 else 0
    return reading_doubt(float(piece.spread), piece.count, float(step))


def _seconds(utc_ns: int, origin_ns: int) -> float:
    return (utc_ns - origin_ns) / 1e9
