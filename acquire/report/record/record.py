"""A trial as the store holds it: frozen rows for whoever renders or computes.

No behaviour beyond naming what a row is; opens nothing. Any thread.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from typing import TYPE_CHECKING, NamedTuple

from acquire.model import Plan, Quantity
from acquire.model.scorecard import Scorecard
from acquire.report.record.checkrecord import CheckRecord
from acquire.report.record.workrecord import NO_WORK, WorkRecord
from acquire.trial.blinding import Blinding

if TYPE_CHECKING:
    from acquire.analysis.samples.repeatability import Lent
    from acquire.drift.history import Seen
    from acquire.report.record.beamrecord import BeamRecord
    from acquire.report.record.entrysteps import EntryStep
    from acquire.report.record.spectra import SpectrumRecord
    from acquire.report.record.traces import TraceRecord


class Standing(StrEnum):
    """What a reading of a run is worth in the results."""

    COUNTS = "counts"
    VOID = "void"
    """A person took it out, with a reason."""
    SUSPECT = "suspect"
    """The check after it found the meter outside its limit, and nobody took it out: left out."""
    UNPLACED = "not in the plan"
    """It counts in the store, but the latest plan has no place for it."""
    IMPOSSIBLE = "no measurement"
    """It counts in the store, but so large a figure is none that could be measured."""


class ReadingRecord(NamedTuple):
    """One reading as the ``readings`` view has it; `at_utc_ns` is its arrival."""

    id: int
    at_utc_ns: int
    instrument: str
    serial: str
    quantity: str
    channel: str
    value: Decimal | None
    unit: str
    sent_text: str
    is_typed: bool
    sent_unit: str
    flags: str
    measure: str
    zone: str
    stage: str
    replicate: int
    run_id: int | None
    check_id: int | None
    bracket: str
    closing_check_id: int | None
    loose_reason: str
    assigned_reason: str
    void_reason: str
    counts: bool
    connection_id: int
    tape: str
    standing: Standing
    adjusted_id: int | None = None
    reassessment_id: int | None = None
    """Of the check that was judged anew and made it suspect; None where something else did."""

    @property
    def is_cut_off(self) -> bool:
        """Whether a re-adjustment made it suspect, with no check as found before, and no check."""
        is_by_check = self.closing_check_id is not None or self.reassessment_id is not None
        return self.bracket == "suspect" and not is_by_check


class BeyondRecord(NamedTuple):
    """A press of a run that the meter sent as out of its range, and the place the run was at.

    `is_above` is whether it lay above the range, else it lay below.
    """

    reading_id: int
    measure: str
    channel: str
    zone: str
    stage: str
    is_above: bool


@dataclass(frozen=True, slots=True)
class RunRecord:
    """One pass of a measure over the zones at a stage. `ended_utc_ns` is None while it is open."""

    id: int
    measure: str
    stage: str
    instrument: str
    serial: str
    begun_utc_ns: int
    ended_utc_ns: int | None
    open_slots: int | None
    end_reason: str
    plan_id: int


@dataclass(frozen=True, slots=True)
class SittingRecord:
    """One stretch of work at the bench; `last_utc_ns` is its end or its last reading or check."""

    id: int
    bench: str
    begun_utc_ns: int
    last_utc_ns: int
    is_closed: bool


@dataclass(frozen=True, slots=True)
class InstrumentRecord:
    """An instrument that the trial used, with the serial number it had then."""

    instrument: str
    serial: str
    kind: Quantity | None
    driver: str
    profile: str


@dataclass(frozen=True, slots=True)
class PlanRecord:
    """A version of the plan as it was stored."""

    id: int
    at_utc_ns: int
    digest: str
    text: str


@dataclass(frozen=True, slots=True)
class TroubleRecord:
    """Something that went wrong or was told by a device, in words."""

    at_utc_ns: int
    instrument: str
    kind: str
    message: str


@dataclass(frozen=True, slots=True)
class ShiftRecord:
    """Something after which a meter may stand elsewhere; no `instrument` means every meter.

    It comes right after the reading `after_reading`. Where that is not known, it lies between two
    readings of which the first is not later than `left_utc_ns` and the second not earlier than
    `reached_utc_ns`. `spared_serial` is the serial number that it says nothing of, None for none.
    """

    instrument: str
    after_reading: int | None = None
    left_utc_ns: int = 0
    reached_utc_ns: int = 0
    spared_serial: str | None = None
    is_set_back: bool = False
    """The computer's clock was set back: readings after it may seem to be before it."""


@dataclass(frozen=True, slots=True)
class NoteRecord:
    """A remark of the person at the bench."""

    at_utc_ns: int
    stage: str
    text: str


@dataclass(frozen=True, slots=True)
class TrialRecord:
    """Everything the store says about one trial. `plan` is its latest version.

    `readings` are those of its runs, left-out ones included; `loose` those around its runs that
    count for nothing (`acquire.report.record.surrounding`), and `loose_elsewhere` counts all
    others. `checks` are those around its readings and all others of its instruments in its
    sittings, in their order. `noise` counts stretches of bytes that were no reading, by instrument.
    `shifts` are those of its instruments in all of the store. `seal` is the last one of the store,
    as `coatbench store verify` takes it. `lent` is what studies of its instruments lend, by
    measure. `histories` are those of its instruments in all of the store, seen at their last check.
    `spectra` has the spectrum of each reading that was made of one, by the reading's number.
    `beams` has the dark and the open beam of each check of a head that sends counts. `traces` are
    those behind the readings of measures with a sled, a part for each run. `blinding` says who was
    told which product a code is, None where the plan hides nothing; `plan` has the products beside
    their codes once the key was unsealed. `misfit` says what of all this does not fit its seals;
    empty where everything does.
    """

    store: str
    plan: Plan
    plans: tuple[PlanRecord, ...]
    sittings: tuple[SittingRecord, ...]
    instruments: tuple[InstrumentRecord, ...]
    runs: tuple[RunRecord, ...]
    readings: tuple[ReadingRecord, ...]
    loose: tuple[ReadingRecord, ...]
    checks: tuple[CheckRecord, ...]
    troubles: tuple[TroubleRecord, ...]
    notes: tuple[NoteRecord, ...]
    noise: tuple[tuple[str, int], ...]
    loose_elsewhere: int = 0
    shifts: tuple[ShiftRecord, ...] = ()
    seal: str = ""
    lent: Mapping[str, Lent] = field(default_factory=dict)
    histories: tuple[Seen, ...] = ()
    spectra: Mapping[int, SpectrumRecord] = field(default_factory=dict)
    beams: Mapping[int, BeamRecord] = field(default_factory=dict)
    traces: tuple[TraceRecord, ...] = ()
    misfit: str = ""
    work: WorkRecord = NO_WORK
    """What was put on, washed, rated and photographed."""
    blinding: Blinding | None = None
    entry_steps: Mapping[int, EntryStep] = field(default_factory=dict)
    """The step that typed readings were held against, by the connection they came over."""
    scorecards: tuple[Scorecard, ...] = ()
    """Those that points of it were kept by, by each id the highest version."""
    beyond: tuple[BeyondRecord, ...] = ()
    """The presses of its runs that were out of range (`acquire.report.record.outofrange`)."""

    @property
    def typed_instruments(self) -> tuple[str, ...]:
        """Instruments without a port, of which a person typed the readings."""
        found = {r.instrument for r in (*self.readings, *self.loose) if r.is_typed}
        return tuple(sorted(found | {c.instrument for c in self.checks if c.is_typed}))

    def check(self, check_id: int | None) -> CheckRecord | None:
        return next((c for c in self.checks if c.id == check_id), None)

    def doubted(self, opening: int | None, closing: int | None) -> CheckRecord | None:
        """Of the checks around suspect readings, the one that made them so by being judged anew."""
        first, later = self.check(opening), self.check(closing)
        if first is not None and first.anew is not None and first.anew.outcome != "pass":
            return first
        if later is None or later.anew is None or later.outcome == "fail":
            return None
        return later if later.anew.outcome == "fail" else None

    def name_of(self, treatment: str) -> str:
        """The treatment's name in the plan, or its id where the plan has none."""
        return next((t.name or t.id for t in self.plan.treatments if t.id == treatment), treatment)

    def first_read(self, *standings: Standing) -> dict[tuple[str, str], int]:
        """When each zone was first read at each stage, by the readings that stand so."""
        first: dict[tuple[str, str], int] = {}
        for r in self.readings:
            if r.standing in standings:
                # A clock may have been set back, so that the first of all is not the earliest.
                before = first.get((r.zone, r.stage))
                if before is None or r.at_utc_ns < before:
                    first[r.zone, r.stage] = r.at_utc_ns
        return first

    def count(self, standing: Standing) -> int:
        return sum(1 for r in self.readings if r.standing is standing)

    @property
    def suspect_voids(self) -> int:
        """Voids that would be suspect: they count as void and never as suspect."""
        return sum(
            1 for r in self.readings if r.standing is Standing.VOID and r.bracket == "suspect"
        )
