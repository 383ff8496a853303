"""What may have left a meter standing elsewhere, and between which readings it lies.

What a device told is ordered by the reading that it came after. Gaps and incidents have only the
computer's clock, and a step of that clock is known by how far it went. All of the store is asked,
not only the trial's sittings: a clock that was set may put a row outside of them. Reads the store
and writes nothing. The thread of the reader.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from acquire.model import IncidentKind, NoticeKind
from acquire.report.record.record import ShiftRecord
from acquire.store.reader import StoreReader

_STEP = re.compile(r"jumped by ([+-][0-9.]+) s")
"""As the incident says it; a step is told to a tenth of a second."""

_NOTICED_WITHIN_NS = 2_000_000_000
"""A step is noticed within a tick or two, and a reading may be recorded before it is."""


def shifts_of(reader: StoreReader, names: Sequence[str]) -> tuple[ShiftRecord, ...]:
    """Whatever may have shifted one of these instruments, each kind in the order of recording."""
    found = (*_told(reader), *_lost(reader), *_happened(reader))
    return tuple(s for s in found if s.instrument in ("", *names))


def _told(reader: StoreReader) -> Iterator[ShiftRecord]:
    for row in reader.rows(
        "SELECT instrument, kind, text, after_reading FROM notice WHERE kind IN (?, ?) "
        "OR (kind = ? AND text <> '') ORDER BY id",
        (NoticeKind.ADJUSTED.value, NoticeKind.POWER_UP.value, NoticeKind.IDENTITY.value),
    ):
        is_identity = row["kind"] == NoticeKind.IDENTITY
        yield ShiftRecord(
            row["instrument"],
            after_reading=row["after_reading"],
            spared_serial=row["text"] if is_identity else None,
        )


def _lost(reader: StoreReader) -> Iterator[ShiftRecord]:
    # Bytes that went unrecorded may have told of a shift.
    for row in reader.rows("SELECT instrument, since_utc_ns FROM gap ORDER BY id"):
        yield ShiftRecord(row[0], left_utc_ns=row[1], reached_utc_ns=row[1])


def _happened(reader: StoreReader) -> Iterator[ShiftRecord]:
    for row in reader.rows(
        "SELECT instrument, kind, at_utc_ns, message FROM incident WHERE kind IN (?, ?) "
        "ORDER BY id",
        (IncidentKind.CLOCK_JUMPED.value, IncidentKind.OTHER_SERIAL.value),
    ):
        at_ns = row["at_utc_ns"]
        step = _STEP.search(row["message"])
        if row["kind"] == IncidentKind.OTHER_SERIAL or step is None:
            yield ShiftRecord(row["instrument"], left_utc_ns=at_ns, reached_utc_ns=at_ns)
            continue
        yield ShiftRecord(
            row["instrument"],
            left_utc_ns=at_ns - round(float(step[1]) * 1e9) + _NOTICED_WITHIN_NS,
            reached_utc_ns=at_ns - _NOTICED_WITHIN_NS,
            is_set_back=float(step[1]) < 0,
        )
