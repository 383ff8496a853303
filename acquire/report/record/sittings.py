"""The sittings of a trial, and until when each lasts by what the trial has in it.

What other trials and meters did in a sitting is of no account: it is in no package of the trial,
of which the page has to come to the same. Reads the store and writes nothing. The thread of the
reader.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from acquire.report.record.record import SittingRecord
from acquire.store.reader import StoreReader

_PART = 500
"""So many ids are asked for at once: SQLite bounds the number of variables."""
_SITTING = """
SELECT s.id, s.bench, s.at_utc_ns, coalesce(e.at_utc_ns, 0), e.id IS NOT NULL
FROM sitting AS s LEFT JOIN sitting_end AS e ON e.sitting_id = s.id WHERE s.id = ?"""
_READ = "SELECT sitting_id, max(at_utc_ns) FROM reading WHERE id IN ({}) GROUP BY sitting_id"
_JUDGED = """
SELECT c.sitting_id, max(j.at_utc_ns) FROM check_begin AS c JOIN check_judgement AS j
ON j.check_id = c.id WHERE c.id IN ({}) GROUP BY c.sitting_id"""


def sittings_of(
    reader: StoreReader, ids: Sequence[int], readings: Iterable[int], checks: Iterable[int]
) -> list[SittingRecord]:
    """These sittings; each lasts to its end, or the last of these readings and checks."""
    found = []
    for number in ids:
        for row in reader.rows(_SITTING, (number,)):
            found.append(SittingRecord(row[0], row[1], row[2], max(row[2:4]), bool(row[4])))
    return _lasting(_lasting(found, reader, _READ, readings), reader, _JUDGED, checks)


def with_loose(
    reader: StoreReader, sittings: Sequence[SittingRecord], loose: Iterable[int]
) -> list[SittingRecord]:
    """The same sittings; one that is still open lasts to its last loose reading, too."""
    longer = _lasting(sittings, reader, _READ, loose)
    return [old if old.is_closed else new for old, new in zip(sittings, longer, strict=True)]


def _lasting(
    sittings: Sequence[SittingRecord], reader: StoreReader, sql: str, ids: Iterable[int]
) -> list[SittingRecord]:
    every, last = sorted(ids), {one.id: one.last_utc_ns for one in sittings}
    for at in range(0, len(every), _PART):
        part = every[at : at + _PART]
        for sitting, until in reader.rows(sql.format(", ".join("?" * len(part))), part):
            if sitting in last:
                last[sitting] = max(last[sitting], until)
    return [replace(one, last_utc_ns=last[one.id]) for one in sittings]
