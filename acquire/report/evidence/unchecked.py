"""Readings under no check: which of them may be taken to share one offset of one meter.

A check says how far a meter stood from its reference piece. Without one, an offset of it cancels in
a difference only where both sides were read in one stretch: by one meter, over one connection,
without a long break, and without anything known that shifts it. An error that grows with the
reading does not, and of it nothing is known then. A step of the computer's clock ends every
stretch: how long a break lasted across it nobody knows. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

from acquire.report.record.record import ReadingRecord, ShiftRecord, TrialRecord

LONGEST_BREAK_S = 4 * 3600
"""A meter that was left alone for longer may stand elsewhere (common practice, no source)."""

_OUT_OF_ORDER_NS = 2_000_000_000
"""Readings of two meters may be recorded so far out of their order without any clock being set."""


def unchecked_stretches(record: TrialRecord) -> Mapping[int, str]:
    """The stretch of each unchecked reading, by its id; others are in none."""
    readings = sorted(record.readings, key=lambda r: r.id)
    shifts = [_pinned(shift, record.shifts, readings) for shift in record.shifts]
    concerning: dict[tuple[str, str, int], list[ShiftRecord]] = {}
    found: dict[int, str] = {}
    last: dict[tuple[str, str, int], ReadingRecord] = {}
    breaks: dict[tuple[str, str, int], int] = {}
    for reading in readings:
        if reading.bracket != "unchecked":
            continue
        meter = (reading.instrument, reading.serial, reading.connection_id)
        if meter not in concerning:
            concerning[meter] = [s for s in shifts if _concerns(s, reading)]
        before = last.get(meter)
        if before is not None and (
            abs(reading.at_utc_ns - before.at_utc_ns) > LONGEST_BREAK_S * 1_000_000_000
            or any(_lies_between(shift, before, reading) for shift in concerning[meter])
        ):
            breaks[meter] = breaks.get(meter, 0) + 1
        last[meter] = reading
        found[reading.id] = f"{' '.join(map(str, meter))} {breaks.get(meter, 0)}"
    return found


def _pinned(
    shift: ShiftRecord, shifts: Sequence[ShiftRecord], readings: Sequence[ReadingRecord]
) -> ShiftRecord:
    """A clock set back, by the one place where readings show it; else what it was.

    By the clock alone it could lie anywhere among the readings of the time that came twice, and
    all of them would be torn apart. Where several were set back, none can be told from another.
    """
    if not shift.is_set_back or sum(s.is_set_back for s in shifts) > 1:
        return shift
    shown = [
        before.id
        for before, after in pairwise(readings)
        if before.at_utc_ns - after.at_utc_ns > _OUT_OF_ORDER_NS
        and _lies_between(shift, before, after)
    ]
    return ShiftRecord(shift.instrument, after_reading=shown[0]) if len(shown) == 1 else shift


def _concerns(shift: ShiftRecord, reading: ReadingRecord) -> bool:
    """Whether it may have shifted the meter of this reading."""
    return shift.instrument in ("", reading.instrument) and shift.spared_serial != reading.serial


def _lies_between(shift: ShiftRecord, before: ReadingRecord, after: ReadingRecord) -> bool:
    """Whether a shift may have come after the first and before the second reading."""
    if shift.after_reading is not None:
        return before.id <= shift.after_reading < after.id
    return before.at_utc_ns <= shift.left_utc_ns and after.at_utc_ns >= shift.reached_utc_ns
