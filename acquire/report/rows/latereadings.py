"""Whether single readings were taken when the surface of their stage was gone, row by row.

Asked of the store alone, so that an export loads no results for it. The thread of the reader.
"""

from __future__ import annotations

from acquire.model import Plan
from acquire.report.evidence.toolate import Taken, late_of
from acquire.store.reader import StoreReader
from acquire.store.worked import Worked

_TAKEN = """
SELECT reading_id, zone, stage, at_utc_ns, counts FROM readings
WHERE trial = ? AND role = 'run' AND void_reason IS NULL AND reading_id IN (
    SELECT q.id FROM trial AS t JOIN run AS r ON r.trial_id = t.id
    JOIN reading AS q ON q.run_id = r.id WHERE t.trial = ?1
    UNION SELECT a.reading_id FROM trial AS t JOIN run AS r ON r.trial_id = t.id
    JOIN assignment AS a ON a.run_id = r.id WHERE t.trial = ?1)"""


class LateReadings:
    """Asked for reading after reading; looks each trial up once, at its first reading."""

    def __init__(self, store: StoreReader) -> None:
        self._store = store
        self._trials: dict[str, dict[int, str]] = {}

    def why(self, latest: Plan, reading_id: int) -> str:
        """What had been done to its zone by then, by the latest plan; empty if it was in time."""
        if latest.id not in self._trials:
            taken = (
                Taken(row[0], row[1], row[2], row[3], bool(row[4]))
                for row in self._store.rows(_TAKEN, (latest.id,))
            )
            applications = Worked(self._store.rows).applications(latest.id)
            self._trials[latest.id] = late_of(latest, applications, taken)
        return self._trials[latest.id].get(reading_id, "")
