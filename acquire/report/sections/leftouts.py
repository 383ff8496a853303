"""Readings that are not in the results, or that need a word, with the reason. Pure; any thread."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import repeat
from typing import NamedTuple

from acquire.analysis.figures import suffix
from acquire.analysis.treatments.level import flag_of
from acquire.model import at_channel
from acquire.report.evidence.displaystep import last_digit
from acquire.report.evidence.evidence import Evidence
from acquire.report.record.record import ReadingRecord, Standing, TrialRecord
from acquire.report.sections.brackets import outside, without
from acquire.report.words.sentvalue import printed
from acquire.report.words.wording import moment, reason_alone
from acquire.units import symbol

MOST_LOOSE = 300
TOO_LARGE = "no measurement could be so large; void it, and look at what the meter sends"


class LeftOut(NamedTuple):
    """One reading and the reason."""

    id: int
    when: str
    place: str
    value: str
    reason: str


class LeftOuts(NamedTuple):
    """By kind. `loose_hidden` counts loose readings beyond those listed."""

    suspects: tuple[LeftOut, ...]
    voids: tuple[LeftOut, ...]
    unplaced: tuple[LeftOut, ...]
    impossible: tuple[LeftOut, ...]
    loose: tuple[LeftOut, ...]
    loose_hidden: int
    assigned: tuple[LeftOut, ...]
    flagged: tuple[str, ...]

    @property
    def is_empty(self) -> bool:
        return not any(self)


def left_outs(record: TrialRecord, evidence: Sequence[Evidence]) -> LeftOuts:
    """All of them, in the order of their numbers."""

    def of(standing: Standing, reasons: Iterable[str]) -> tuple[LeftOut, ...]:
        readings = (r for r in record.readings if r.standing is standing)
        return tuple(_left_out(r, reason) for r, reason in zip(readings, reasons, strict=False))

    suspects = [
        without(doubted)
        if (doubted := record.doubted(r.check_id, r.closing_check_id)) is not None
        else "the meter was re-adjusted after it, with no check as found before"
        if r.is_cut_off
        else f"check {r.closing_check_id} after it found the meter outside "
        f"{outside(record, r.check_id, r.closing_check_id)}"
        for r in record.readings
        if r.standing is Standing.SUSPECT
    ]
    voids = [r.void_reason for r in record.readings if r.standing is Standing.VOID]
    unplaced = [
        f"the latest plan has no zone {r.zone} at {r.stage} for measure {r.measure}"
        for r in record.readings
        if r.standing is Standing.UNPLACED
    ]
    at = {b.reading_id: f"zone {b.zone}, {b.stage}" for b in record.beyond}
    return LeftOuts(
        of(Standing.SUSPECT, suspects),
        of(Standing.VOID, voids),
        of(Standing.UNPLACED, unplaced),
        of(Standing.IMPOSSIBLE, repeat(TOO_LARGE)),
        tuple(_left_out(r, _why_loose(r), at.get(r.id, "")) for r in record.loose[:MOST_LOOSE]),
        max(0, len(record.loose) - MOST_LOOSE),
        tuple(_left_out(r, r.assigned_reason) for r in record.readings if r.assigned_reason),
        _flagged(evidence),
    )


def value_text(reading: ReadingRecord) -> str:
    """The value with its unit and channel; the flag where the device sent no value."""
    if reading.value is None:
        return reading.flags or "no value"
    unit = symbol(reading.unit)
    at = at_channel(reading.channel)
    value = printed(reading.value, last_digit(reading, reading.unit))
    return f"{value}{' ' + unit if unit else ''}{at}".replace("-", "−")


def _why_loose(reading: ReadingRecord) -> str:
    why = reason_alone(reading.loose_reason)
    return f"{why}; void: {reading.void_reason}" if reading.void_reason else why


def _left_out(reading: ReadingRecord, reason: str, at: str = "") -> LeftOut:
    """`at` is where a run was when a loose one came, where that matters."""
    place = (
        f"{reading.instrument}, no place; the run was at {at}"
        if at
        else f"zone {reading.zone}, {reading.stage}, reading {reading.replicate}"
        if reading.zone
        else f"{reading.instrument}, no place"
    )
    value = value_text(reading) + (" (typed)" if reading.is_typed else "")
    return LeftOut(reading.id, moment(reading.at_utc_ns), place, value, reason)


def _flagged(evidence: Sequence[Evidence]) -> tuple[str, ...]:
    said = (flag_of(v.cell, suffix(e.result.unit)) for e in evidence for v in e.result.levels)
    return tuple(text for text in said if text)
