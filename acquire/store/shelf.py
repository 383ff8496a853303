"""What the desk looks up in the store: committed rows as facts.

Runs on the thread that owns the writer, between batches, never in the path of a reading.
"""

from __future__ import annotations

import sqlite3

from acquire.model import OUT_OF_RANGE, Slot, Target
from acquire.store.aftermath import Aftermath
from acquire.store.check_rows import ClimateRow
from acquire.store.found import (
    Filled,
    MadeSuspect,
    OpenRun,
    Past,
    StoredReading,
    StoredTrial,
    SuspectRun,
    Tags,
)
from acquire.store.passes import Passes
from acquire.store.pasts import past_of
from acquire.store.placed import ADJUSTED_LAST, ADJUSTED_RUNS, FILLED, SUSPECT_RUNS
from acquire.store.queried import Queried
from acquire.store.register_rows import CertificateRow, PieceRow
from acquire.store.rows import InstrumentRow
from acquire.store.told import ToldTimes
from acquire.store.worked import Worked

_READING = f"SELECT reading_id, {', '.join(StoredReading._fields[1:])} FROM readings"  # noqa: S608

PRESS_LASTS_NS = 10_000_000_000
"""Readings of one count are of one press for so long.

All angles of a press come within a few seconds. A count comes again later: when the meter was
switched off and on, when it ran over, or at every press of a meter that does not count. Ten
seconds: common practice, no source.
"""

_NEAR = 200
"""Readings of one press have numbers no farther apart, whatever else is read meanwhile."""
_SAME_PRESS = f"""{_READING}
WHERE role = 'run' AND void_reason IS NULL
  AND run_id = (SELECT run_id FROM readings WHERE reading_id = ?)
  AND EXISTS (SELECT 1 FROM readings AS q WHERE q.reading_id = ?
      AND q.connection_id = readings.connection_id AND q.zone = readings.zone
      AND q.stage = readings.stage AND q.replicate = readings.replicate
      AND (q.reading_id = readings.reading_id
           OR (q.press = readings.press AND (
               SELECT max(at_mono_ns) - min(at_mono_ns) FROM reading
               WHERE id IN (q.reading_id, readings.reading_id)) <= {PRESS_LASTS_NS})
           OR (q.press IS NULL AND q.at_utc_ns = readings.at_utc_ns)))
ORDER BY reading_id"""  # noqa: S608


_BEYOND_OF_PRESS = f"""{_READING}
WHERE void_reason IS NULL AND reading_id IN (
    SELECT m.id FROM reading AS q JOIN reading AS m ON m.connection_id = q.connection_id
        AND m.id BETWEEN q.id - {_NEAR} AND q.id + {_NEAR}
    WHERE q.id = ? AND m.role = 'loose' AND m.flags IN (?, ?)
      AND (m.id = q.id
           OR (m.press = q.press AND abs(m.at_mono_ns - q.at_mono_ns) <= {PRESS_LASTS_NS})
           OR (q.press IS NULL AND m.at_utc_ns = q.at_utc_ns)))
ORDER BY reading_id"""  # noqa: S608


class Shelf:
    """Look-ups over the writer's own connection."""

    def __init__(self, writer: Queried) -> None:
        self._writer = writer
        self.query = writer.query
        """For what has look-ups of its own."""
        self.aftermath = Aftermath(writer)
        self.passes = Passes(writer)
        self.told = ToldTimes(writer)
        self.worked = Worked(writer.query)

    def filled(self, trial: str, measure: str, stage: str) -> dict[Slot, tuple[int, float]]:
        """The slots that hold a reading that counts, with its id and value."""
        rows = self._writer.query(FILLED, (trial, measure, stage))
        return {
            Slot(Target(r["zone"], r["stage"], r["replicate"]), r["channel"]): (
                r["reading_id"],
                r["value_real"],
            )
            for r in rows
        }

    def trial(self, name: str) -> StoredTrial | None:
        """The latest version of a trial's plan."""
        rows = self._writer.query(
            "SELECT id, trial, unchecked, text, digest FROM trial WHERE trial = ? "
            "ORDER BY id DESC LIMIT 1",
            (name,),
        )
        return _trial(rows[0]) if rows else None

    def trials(self) -> list[str]:
        """The trials that have a plan here, the oldest first."""
        rows = self._writer.query("SELECT trial FROM trial GROUP BY trial ORDER BY min(id)")
        return [r["trial"] for r in rows]

    def last_run(self) -> tuple[str, str, str] | None:
        """Trial, stage and measure of the run that was begun last."""
        sql = "SELECT trial, stage, measure FROM runs ORDER BY run_id DESC LIMIT 1"
        rows = self._writer.query(sql)
        return tuple(rows[0]) if rows else None

    def adjusted_last(self) -> int | None:
        """The notice of the last re-adjustment of any meter, if no check was judged after it."""
        number = self._writer.query(ADJUSTED_LAST)[0][0]
        return None if number is None else int(number)

    def suspects(self) -> list[SuspectRun]:
        """The runs of which a re-adjustment, or the check that was judged last, made readings
        suspect.
        """
        adjusted = self._writer.query(ADJUSTED_RUNS, (self.adjusted_last(),))
        if adjusted:
            return [SuspectRun(*row) for row in adjusted]
        latest = self._writer.query("SELECT check_id FROM check_judgement ORDER BY id DESC LIMIT 1")
        if not latest:
            return []
        rows = self._writer.query(SUSPECT_RUNS, (latest[0]["check_id"],))
        return [SuspectRun(*row) for row in rows]

    def made_suspect(self, by: MadeSuspect, trial: str, measure: str, stage: str) -> list[Filled]:
        """The readings of a measure at a stage that these have made suspect."""
        checks, notices = (", ".join("?" * len(numbers)) for numbers in (by.checks, by.notices))
        return [
            _filled(row)
            for row in self._writer.query(
                "SELECT * FROM readings WHERE bracket = 'suspect' AND role = 'run' "  # noqa: S608
                f"AND (closing_check_id IN ({checks}) OR adjusted_id IN ({notices})) "
                "AND trial = ? AND measure = ? AND stage = ? ORDER BY reading_id",
                (*by.checks, *by.notices, trial, measure, stage),
            )
        ]

    def stages_run(self, name: str) -> set[tuple[str, str]]:
        """(measure, stage) pairs of a trial that have runs."""
        rows = self._writer.query(
            "SELECT DISTINCT measure, stage FROM runs WHERE trial = ?", (name,)
        )
        return {(r["measure"], r["stage"]) for r in rows}

    def zones_filled(self, name: str) -> dict[str, str]:
        """Zone -> measure of a trial's readings that count, to protect them from a changed plan."""
        rows = self._writer.query(
            "SELECT DISTINCT zone, measure FROM readings WHERE trial = ? AND counts = 1", (name,)
        )
        return {r["zone"]: r["measure"] for r in rows}

    def open_runs(self) -> list[OpenRun]:
        """Runs without an end, the latest last."""
        rows = self._writer.query(
            "SELECT r.id AS run_id, r.at_utc_ns, r.measure, r.stage, r.instrument, "
            "t.id, t.trial, t.unchecked, t.text, t.digest "
            "FROM run AS r JOIN trial AS t ON t.id = r.trial_id "
            "WHERE r.id NOT IN (SELECT run_id FROM run_end) ORDER BY r.id"
        )
        return [
            OpenRun(
                r["run_id"], r["at_utc_ns"], _trial(r), r["measure"], r["stage"], r["instrument"]
            )
            for r in rows
        ]

    def past(self, run: OpenRun) -> Past:
        """How an open run came to stand where it stands."""
        return past_of(self._writer, run)

    def latest_run(self, trial: str, measure: str, stage: str) -> int | None:
        """The id of the latest run of a measure at a stage."""
        rows = self._writer.query(
            "SELECT max(run_id) AS run_id FROM runs WHERE trial = ? AND measure = ? AND stage = ?",
            (trial, measure, stage),
        )
        return None if rows[0]["run_id"] is None else int(rows[0]["run_id"])

    def reading(self, reading_id: int) -> StoredReading | None:
        rows = self._writer.query(f"{_READING} WHERE reading_id = ?", (reading_id,))
        return StoredReading(*rows[0]) if rows else None

    def tags(self, reading_id: int) -> Tags | None:
        """A reading as it was recorded: quick, without the brackets that the view works out."""
        rows = self._writer.query(
            f"SELECT {', '.join(Tags._fields)} FROM reading WHERE id = ?",  # noqa: S608
            (reading_id,),
        )
        return Tags(*rows[0]) if rows else None

    def void_reason(self, reading_id: int) -> str | None:
        """Why a reading is void; None where it is not."""
        rows = self._writer.query("SELECT reason FROM void WHERE reading_id = ?", (reading_id,))
        return str(rows[0]["reason"]) if rows else None

    def same_press(self, reading_id: int) -> list[StoredReading]:
        """The readings of one press at one target that are not void, this one among them.

        Of one press are those with the device's same count that came soon after each other, or
        without a count those that came at the same moment.
        """
        rows = self._writer.query(_SAME_PRESS, (reading_id, reading_id))
        return [StoredReading(*row) for row in rows]

    def out_of_range_at(self, reading_id: int) -> list[StoredReading]:
        """What lay out of range at the press of a reading, as loose, and is not void."""
        rows = self._writer.query(_BEYOND_OF_PRESS, (reading_id, *map(str, OUT_OF_RANGE)))
        return [StoredReading(*row) for row in rows]

    def latest_climate(self) -> ClimateRow | None:
        """What was entered last of the room's climate."""
        rows = self._writer.query(
            f"SELECT {', '.join(ClimateRow._fields)} FROM climate ORDER BY id DESC LIMIT 1"  # noqa: S608
        )
        return ClimateRow(*rows[0]) if rows else None

    def open_sitting(self) -> tuple[int, int] | None:
        """Id and beginning (UTC, ns) of the sitting that has not ended."""
        rows = self._writer.query(
            "SELECT id, at_utc_ns FROM sitting "
            "WHERE id NOT IN (SELECT sitting_id FROM sitting_end) ORDER BY id DESC LIMIT 1"
        )
        return (rows[0]["id"], rows[0]["at_utc_ns"]) if rows else None

    def certificates(self) -> list[CertificateRow]:
        return [
            CertificateRow(*r)
            for r in self._writer.query(
                f"SELECT {', '.join(CertificateRow._fields)} FROM certificate ORDER BY id"  # noqa: S608
            )
        ]

    def pieces(self) -> list[PieceRow]:
        return [
            PieceRow(*r)
            for r in self._writer.query(
                f"SELECT {', '.join(PieceRow._fields)} FROM piece ORDER BY id"  # noqa: S608
            )
        ]

    def certificate_files(self) -> dict[int, str]:
        """The SHA-256 of every kept file, by its id."""
        return {
            r["id"]: r["sha256"]
            for r in self._writer.query("SELECT id, sha256 FROM certificate_file ORDER BY id")
        }

    def instruments(self) -> list[InstrumentRow]:
        return [
            InstrumentRow(*r)
            for r in self._writer.query(
                f"SELECT {', '.join(InstrumentRow._fields)} FROM instrument ORDER BY id"  # noqa: S608
            )
        ]


def _filled(row: sqlite3.Row) -> Filled:
    target = Target(row["zone"], row["stage"], row["replicate"])
    return Filled(Slot(target, row["channel"]), row["reading_id"], row["value_real"])


def _trial(row: sqlite3.Row) -> StoredTrial:
    return StoredTrial(row["id"], row["trial"], bool(row["unchecked"]), row["text"], row["digest"])
