"""Checks and passes as the desk looks them up: what covers a reading, what has no end yet.

The thread that owns the writer.
"""

from __future__ import annotations

import sqlite3
from dataclasses import replace
from decimal import Decimal

from acquire.model import Ending, EndReason, Instant, Pass, elsewhere
from acquire.store.found import CheckReading, MadeSuspect, Taken, UnjudgedCheck
from acquire.store.queried import Queried

# A moment on a monotonic clock that has ended with its process.
_NEVER = 2**63 - 1

_TAKEN_UNDER = """
SELECT q.id, q.connection_id, q.press, q.at_utc_ns, q.at_mono_ns, q.channel FROM reading AS q
WHERE (q.role = 'run' AND q.check_id = ?1) OR q.id = ?2
  OR q.id IN (SELECT reading_id FROM assignment WHERE check_id = ?1)
ORDER BY q.id"""

# Of a check. Not what was taken back, which is void by the later angle of its press that told so.
_READ_OF_ITS_PIECES = """
SELECT q.id, q.piece, q.channel, q.value, v.id IS NOT NULL AS void
FROM reading AS q LEFT JOIN void AS v ON v.reading_id = q.id
WHERE q.check_id = ?1 AND q.role = 'check' AND q.value IS NOT NULL
  AND NOT (v.id IS NOT NULL AND EXISTS (
    SELECT 1 FROM reading AS o
    WHERE o.connection_id = q.connection_id AND o.id > q.id AND o.role = 'loose'
      AND o.at_utc_ns = v.at_utc_ns AND instr(v.reason, printf(?2, o.id)) = 1))
ORDER BY q.id"""


class Passes:
    """Look-ups over the writer's own connection."""

    def __init__(self, writer: Queried) -> None:
        self._writer = writer

    def covering(
        self, instrument: str, serial: str, reading_id: int
    ) -> tuple[Pass | None, Ending | None]:
        """The latest pass of an instrument that was recorded before a reading.

        With its ending if that was recorded before the reading, too. The order of recording
        decides, since a clock can be set back.
        """
        rows = self._writer.query(
            "SELECT c.*, e.after_reading AS ended_after, j.least_real, j.most_real, j.presses "
            "FROM checks AS c "
            "JOIN check_judgement AS j ON j.check_id = c.check_id "
            "LEFT JOIN pass_end AS e ON e.check_id = c.check_id "
            "WHERE c.instrument = ? AND c.serial = ? AND c.outcome = 'pass' "
            "AND j.after_reading < ? ORDER BY c.check_id DESC LIMIT 1",
            (instrument, serial, reading_id),
        )
        if not rows:
            return None, None
        row = rows[0]
        ended_before = row["ended_after"] is not None and row["ended_after"] < reading_id
        ending = _ending(row)
        if ending is not None and ended_before:
            return _pass(row), replace(ending, at=Instant(0, 0))
        return _pass(row), ending

    def taken_under(self, check_id: int, reading_id: int) -> list[Taken]:
        """What went into runs under a pass, as it came or by a hand; a reading among it."""
        return [Taken(*row) for row in self._writer.query(_TAKEN_UNDER, (check_id, reading_id))]

    def suspect_by(self, check_id: int) -> MadeSuspect:
        """The check, or the re-adjustment, that made what a pass covers suspect."""
        rows = self._writer.query(
            "SELECT b.closing_check_id, b.adjusted_id, w.check_id FROM brackets AS b "
            "LEFT JOIN reassessment AS w ON w.id = b.reassessment_id "
            "WHERE b.check_id = ? AND b.state = 'suspect'",
            (check_id,),
        )
        numbers = [[n for n in column if n is not None] for column in zip(*rows, strict=True)]
        return MadeSuspect(*numbers)

    def came_in_a_check(self, instrument: str, reading_id: int, at_utc_ns: int) -> bool:
        """Whether a check of the instrument was under way when a reading was recorded.

        By the order of recording; by the clock only where a check does not say what it began after.
        """
        return bool(
            self._writer.query(
                "SELECT 1 FROM check_begin AS c "
                "LEFT JOIN check_judgement AS j ON j.check_id = c.id "
                "WHERE c.instrument = ? AND CASE WHEN c.after_reading IS NULL "
                "THEN c.at_utc_ns <= ? ELSE c.after_reading < ? END "
                "AND (j.id IS NULL OR j.after_reading >= ?) LIMIT 1",
                (instrument, at_utc_ns, reading_id, reading_id),
            )
        )

    def unended_passes(self) -> list[Pass]:
        """Passes without a recorded end."""
        rows = self._writer.query(
            "SELECT c.*, j.least_real, j.most_real, j.presses FROM checks AS c "
            "JOIN check_judgement AS j ON j.check_id = c.check_id "
            "WHERE c.outcome = 'pass' AND c.ended_utc_ns IS NULL"
        )
        return [_pass(r) for r in rows]

    def unjudged_checks(self) -> list[UnjudgedCheck]:
        """Checks that were begun and never judged, with what was read of their pieces.

        What was taken back since its press stood elsewhere is no reading of its piece.
        """
        return [
            UnjudgedCheck(
                c["check_id"],
                c["instrument"],
                c["serial"],
                c["at_utc_ns"],
                c["policy"],
                tuple(
                    CheckReading(
                        q["id"], q["piece"], q["channel"], Decimal(q["value"]), bool(q["void"])
                    )
                    for q in self._writer.query(
                        _READ_OF_ITS_PIECES,
                        (c["check_id"], elsewhere.TELLS.format("%d")),
                    )
                ),
            )
            for c in self._writer.query(
                "SELECT id AS check_id, at_utc_ns, instrument, serial, policy_json AS policy "
                "FROM check_begin WHERE id NOT IN (SELECT check_id FROM check_judgement) "
                "ORDER BY id"
            )
        ]


def _pass(row: sqlite3.Row) -> Pass:
    return Pass(
        check_id=row["check_id"],
        instrument=row["instrument"],
        serial=row["serial"],
        channels=frozenset(row["channels"].split(",")),
        opened=Instant(row["judged_utc_ns"], 0),
        expires=Instant(row["expires_utc_ns"], _NEVER),
        span=None
        if row["least_real"] is None
        else (Decimal(repr(row["least_real"])), Decimal(repr(row["most_real"]))),
        presses=row["presses"],
    )


def _ending(row: sqlite3.Row) -> Ending | None:
    if row["ended_utc_ns"] is None:
        return None
    return Ending(
        row["check_id"],
        EndReason(row["end_reason"]),
        Instant(row["ended_utc_ns"], 0),
        row["end_message"],
    )
