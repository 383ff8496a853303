"""The sittings of a trial, and until when each lasts, found by indexes in a store with many others.

Reads the store and writes nothing. The thread of the reader.
"""

from __future__ import annotations

from collections.abc import Sequence

from acquire.report.record import SittingRecord
from acquire.store.reader import StoreReader

_SITTING = """
SELECT s.id, s.bench, s.at_utc_ns, coalesce(e.at_utc_ns, 0), e.id IS NOT NULL,
    coalesce((SELECT max(j.at_utc_ns) FROM check_begin AS c JOIN check_judgement AS j
              ON j.check_id = c.id WHERE c.sitting_id = s.id), 0)
FROM sitting AS s LEFT JOIN sitting_end AS e ON e.sitting_id = s.id WHERE s.id = ?"""
# A run that is left open goes on in later sittings, up to that of its last reading.
_SPANS = """
SELECT r.id, r.sitting_id, (
    SELECT q.sitting_id FROM reading AS q WHERE q.run_id = r.id ORDER BY q.id DESC LIMIT 1)
FROM run AS r"""
# Every reading belongs to a run, to a check, or is loose.
_LAST = """
SELECT max(at) FROM (
    SELECT max(at_utc_ns) AS at FROM reading WHERE sitting_id = ?1 AND run_id IN ({})
    UNION ALL SELECT max(at_utc_ns) FROM reading WHERE sitting_id = ?1
        AND check_id IN (SELECT id FROM check_begin WHERE sitting_id = ?1)
    UNION ALL SELECT max(at_utc_ns) FROM reading WHERE role = 'loose' AND sitting_id = ?1
        AND quantity IN ('gloss', 'force', 'transmittance'))"""


def sittings_of(reader: StoreReader, ids: Sequence[int]) -> list[SittingRecord]:
    """These sittings; each lasts to its end, its last reading or its last check."""
    spans = [tuple(row) for row in reader.rows(_SPANS)] if ids else []
    found = []
    for number in ids:
        runs = [run for run, first, last in spans if first <= number <= (last or first)]
        last = reader.one(_LAST.format(", ".join(map(str, runs))), (number,)) or 0
        for row in reader.rows(_SITTING, (number,)):
            until = max(row[2], row[3], row[5], last)
            found.append(SittingRecord(row[0], row[1], row[2], until, bool(row[4])))
    return found
