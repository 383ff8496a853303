"""When a loose reading may have been meant for a trial: around its runs, and not in another's.

In each sitting of the trial and for each of its instruments one stretch is taken: from the start of
the first check that covers readings of the trial, or of its first run, to the verdict of the last
check that closes some, or the end of its last run; a pass that nothing closed lasts to its end.
Presses before and after had other purposes. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from acquire.report.record.checkrecord import CheckRecord
from acquire.report.record.record import ReadingRecord, RunRecord, SittingRecord

EVER_NS = 2**63 - 1


class Stretch(NamedTuple):
    """From one moment to another, of one instrument; both ends belong to it."""

    instrument: str
    since_ns: int
    until_ns: int

    def holds(self, instrument: str, at_ns: int) -> bool:
        return instrument == self.instrument and self.since_ns <= at_ns <= self.until_ns


def stretches(
    sittings: Sequence[SittingRecord],
    runs: Sequence[RunRecord],
    readings: Sequence[ReadingRecord],
    checks: Sequence[CheckRecord],
) -> tuple[Stretch, ...]:
    """One for each sitting and instrument in which the trial had a run or a reading."""
    by_id = {c.id: c for c in checks}
    found: list[Stretch] = []
    for sitting in sittings:
        last_ns = sitting.last_utc_ns if sitting.is_closed else EVER_NS
        ends: dict[str, list[int]] = {}
        for run in runs:
            if sitting.begun_utc_ns <= run.begun_utc_ns <= last_ns:
                until = last_ns if run.ended_utc_ns is None else run.ended_utc_ns
                ends.setdefault(run.instrument, []).extend((run.begun_utc_ns, until))
        for r in readings:
            if sitting.begun_utc_ns <= r.at_utc_ns <= last_ns:
                ends.setdefault(r.instrument, []).extend(_around(r, by_id, last_ns))
        found += [Stretch(name, min(moments), max(moments)) for name, moments in ends.items()]
    return tuple(found)


def _around(reading: ReadingRecord, checks: dict[int, CheckRecord], last_ns: int) -> Iterator[int]:
    yield reading.at_utc_ns
    opening = checks.get(reading.check_id or 0)
    closing = checks.get(reading.closing_check_id or 0)
    if opening is not None:
        yield opening.begun_utc_ns
    if closing is not None and closing.judged_utc_ns is not None:
        yield closing.judged_utc_ns
    elif opening is not None:
        yield last_ns if opening.ended_utc_ns is None else opening.ended_utc_ns
