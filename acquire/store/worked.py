"""What the store has of the work beside readings, as the rows it was recorded in.

Asked by the desk over the writer's connection and by reports over a reader's; the oldest row first.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence
from typing import NamedTuple

from acquire.store.work_rows import (
    ApplicationRow,
    ApplicationVoidRow,
    GivingUpRow,
    KeyOpeningRow,
    PastImportRow,
    PastResultRow,
    PhotoRow,
    RatingRow,
    ScorecardRow,
    ScoreRow,
    TrialClosingRow,
    TrialKeyRow,
    WashRow,
)

UNSEALED = "unsealed"


_LOOKED_AT = """
SELECT q.zone, q.stage FROM trial AS t JOIN run AS r ON r.trial_id = t.id
JOIN reading AS q ON q.run_id = r.id
WHERE t.trial = ?1 AND NOT EXISTS (SELECT 1 FROM void AS v WHERE v.reading_id = q.id)
UNION SELECT a.zone, a.stage FROM assignment AS a JOIN run AS r ON r.id = a.run_id
JOIN trial AS t ON t.id = r.trial_id
WHERE t.trial = ?1 AND NOT EXISTS (SELECT 1 FROM void AS v WHERE v.reading_id = a.reading_id)
UNION SELECT zone, stage FROM rating WHERE trial = ?1 AND zone <> ''"""

_LAST_READ = """
SELECT zone, max(at_utc_ns) FROM (
    SELECT q.id, q.zone, q.at_utc_ns FROM trial AS t JOIN run AS r ON r.trial_id = t.id
    JOIN reading AS q ON q.run_id = r.id WHERE t.trial = ?1 AND r.stage = ?2
    UNION ALL
    SELECT q.id, a.zone, q.at_utc_ns FROM trial AS t JOIN run AS r ON r.trial_id = t.id
    JOIN assignment AS a ON a.run_id = r.id JOIN reading AS q ON q.id = a.reading_id
    WHERE t.trial = ?1 AND r.stage = ?2
) AS x WHERE NOT EXISTS (SELECT 1 FROM void AS v WHERE v.reading_id = x.id) GROUP BY zone"""

_LAST_STROKE = """
SELECT press, value FROM reading
WHERE id >= coalesce((SELECT max(reading_id) FROM wash WHERE counted_by = ?1),
                     (SELECT max(id) FROM reading) - 100000)
AND instrument = ?1 AND serial = ?2 AND channel = ?3 AND flags = '' ORDER BY id DESC LIMIT 1"""
# From the last wash of the counter on, which is a look at few rows in a store with millions.

_STROKES = """
SELECT at_utc_ns, channel, press, value, flags FROM (
    SELECT id, at_utc_ns, channel, press, value, flags,
        lag(value) OVER (PARTITION BY channel ORDER BY id) AS before
    FROM reading WHERE id > (SELECT max(id) FROM reading) - 100000
        AND role = 'loose' AND quantity = 'counter' AND instrument = ? AND serial = ?
) WHERE channel = 'stroke' OR before IS NULL OR value <> before ORDER BY id"""
# A running count is told every second; of a value that stays the first row is enough.


class ToldStroke(NamedTuple):
    """What a counter told, and when: a stroke with the number it gave it, or its running count."""

    at_utc_ns: int
    channel: str
    press: int | None
    total: int | None
    flags: str


Query = Callable[[str, Sequence[object]], list[sqlite3.Row]]
"""`StoreWriter.query` at the desk, `StoreReader.rows` elsewhere."""


class Worked:
    """Look-ups of keys, applications, washes, ratings, photos and points."""

    def __init__(self, query: Query) -> None:
        self._query = query

    def key(self, digest: str) -> TrialKeyRow | None:
        """The key with this digest; None where the store has none."""
        rows = self._query("SELECT * FROM trial_key WHERE digest = ?", (digest,))
        return TrialKeyRow(*rows[0]) if rows else None

    def key_openings(self, digest: str) -> list[KeyOpeningRow]:
        """To whom the key with this digest was shown, and when it was unsealed."""
        rows = self._query(
            "SELECT o.* FROM key_opening AS o JOIN trial_key AS k ON k.id = o.key_id "
            "WHERE k.digest = ? ORDER BY o.id",
            (digest,),
        )
        return [KeyOpeningRow(*row) for row in rows]

    def is_unsealed(self, digest: str) -> bool:
        """Whether everybody may be told which product each code is."""
        return any(o.how == UNSEALED for o in self.key_openings(digest))

    def closing(self, trial: str) -> TrialClosingRow | None:
        """The last closing or reopening of a trial; None where there was none."""
        rows = self._query(
            "SELECT * FROM trial_closing WHERE trial = ? ORDER BY id DESC LIMIT 1", (trial,)
        )
        return TrialClosingRow(*rows[0]) if rows else None

    def is_closed(self, trial: str) -> bool:
        last = self.closing(trial)
        return last is not None and bool(last.is_closed)

    def given_up(self, trial: str) -> list[GivingUpRow]:
        """The stages of a trial that were given up, and taken back."""
        return [GivingUpRow(*row) for row in self._of("giving_up", trial)]

    def applications(self, trial: str) -> list[ApplicationRow]:
        """What was put on, without what was taken back."""
        away = {void.application_id for void in self.taken_back(trial)}
        return [row for row in self.every_application(trial) if row.id not in away]

    def every_application(self, trial: str) -> list[ApplicationRow]:
        """As they were written down, those that were taken back, too."""
        return [ApplicationRow(*row) for row in self._of("application", trial)]

    def taken_back(self, trial: str) -> list[ApplicationVoidRow]:
        """Which applications were taken back, and why."""
        return [ApplicationVoidRow(*row) for row in self._of("application_void", trial)]

    def washes(self, trial: str) -> list[WashRow]:
        return [WashRow(*row) for row in self._of("wash", trial)]

    def last_stroke(self, counter: str, serial: str, channel: str) -> tuple[int | None, str | None]:
        """Number and value that a counter told last on a channel; None where it told none."""
        rows = self._query(_LAST_STROKE, (counter, serial, channel))
        return (rows[0]["press"], rows[0]["value"]) if rows else (None, None)

    def strokes(self, counter: str, serial: str) -> list[ToldStroke]:
        """What a counter told of late, the oldest first; of a count that stays its first row."""
        return [
            ToldStroke(
                row["at_utc_ns"], row["channel"], row["press"], _count(row["value"]), row["flags"]
            )
            for row in self._query(_STROKES, (counter, serial))
        ]

    def last_wash_utc_ns(self) -> int:
        """When the last wash or correction of any trial was recorded; 0 where there was none."""
        rows = self._query("SELECT at_utc_ns FROM wash ORDER BY id DESC LIMIT 1", ())
        return int(rows[0]["at_utc_ns"]) if rows else 0

    def ratings(self, trial: str) -> list[RatingRow]:
        return [RatingRow(*row) for row in self._of("rating", trial)]

    def looked_at(self, trial: str) -> list[tuple[str, str]]:
        """(zone, stage) pairs with a reading that is not void, or with a rating."""
        return [(row["zone"], row["stage"]) for row in self._query(_LOOKED_AT, (trial,))]

    def last_read(self, trial: str, stage: str) -> dict[str, int]:
        """By zone when it was read last at a stage, in nanoseconds of UTC; voids left out."""
        return {row[0]: row[1] for row in self._query(_LAST_READ, (trial, stage))}

    def latest_work_utc_ns(self) -> int | None:
        """When something was applied or washed last."""
        (row,) = self._query(
            "SELECT max((SELECT coalesce(max(at_utc_ns), -1) FROM application), "
            "(SELECT coalesce(max(at_utc_ns), -1) FROM wash)) AS at_utc_ns",
            (),
        )
        return None if row["at_utc_ns"] < 0 else int(row["at_utc_ns"])

    def photos(self, trial: str) -> list[PhotoRow]:
        return [PhotoRow(*row) for row in self._of("photo", trial)]

    def scorecards(self, name: str) -> list[ScorecardRow]:
        """The versions of a scorecard in the order in which they were first used."""
        rows = self._query("SELECT * FROM scorecard WHERE scorecard = ? ORDER BY id", (name,))
        return [ScorecardRow(*row) for row in rows]

    def scores(self, scorecard_id: int) -> list[ScoreRow]:
        """The latest points of each trial by a version of a scorecard."""
        rows = self._query(
            "SELECT s.* FROM score AS s JOIN (SELECT max(id) AS id FROM score "
            "WHERE scorecard_id = ? GROUP BY trial) AS l ON l.id = s.id ORDER BY s.id",
            (scorecard_id,),
        )
        return [ScoreRow(*row) for row in rows]

    def every_scorecard(self) -> list[ScorecardRow]:
        """All versions of all scorecards in the order in which they were first used."""
        return [
            ScorecardRow(*row) for row in self._query("SELECT * FROM scorecard ORDER BY id", ())
        ]

    def past_import(self, sha256: str) -> PastImportRow | None:
        """The file of past results with this digest; None where it was not imported."""
        rows = self._query("SELECT * FROM past_import WHERE sha256 = ?", (sha256,))
        return PastImportRow(*rows[0]) if rows else None

    def past_results(self) -> list[tuple[str, PastResultRow]]:
        """Every past result, with the name of the file that it came in."""
        rows = self._query(
            "SELECT i.name, r.* FROM past_result AS r JOIN past_import AS i ON i.id = r.import_id "
            "ORDER BY r.id",
            (),
        )
        return [(row[0], PastResultRow(*tuple(row)[1:])) for row in rows]

    def _of(self, table: str, trial: str) -> list[sqlite3.Row]:
        return self._query(
            f"SELECT * FROM {table} WHERE trial = ? ORDER BY id",  # noqa: S608 - our own names
            (trial,),
        )


def _count(text: str | None) -> int | None:
    """A running count as it was told; None for what is no count."""
    return int(text) if text is not None and text.isascii() and text.isdigit() else None
