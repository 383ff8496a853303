"""The gate asked again, from stored checks and passes, about the readings of a connection.

Every reading that counts, and every one that was kept loose for want of a check, is asked of the
same gate as the day it came, by the way an assigned reading takes; it must give the same answer.
Reads the store alone. The reader's thread.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path
from typing import NamedTuple

from acquire.model import Bench, Ending, Instant, Pass
from acquire.pipeline.gatekeeper import Gatekeeper
from acquire.pipeline.ids import Ids
from acquire.store import StoreReader
from acquire.store.passes import Passes

REFUSED = "no valid check"
"""How the desk begins the reason of a loose reading that the gate refused."""

_BEFORE = Instant(0, 0)
"""The moment that is given to an ending that was recorded before a reading."""

_ASKED = """
SELECT reading_id, instrument, serial, channel, at_utc_ns, check_id, value,
    role = 'run' AS passed, assigned_reason IS NOT NULL AS assigned
FROM readings
WHERE connection_id = ? AND ((role = 'run' AND counts = 1) OR loose_reason GLOB ?)
ORDER BY reading_id"""

_LOOSE = """
SELECT count(*) FROM readings
WHERE connection_id = ? AND role = 'loose' AND loose_reason NOT GLOB ?"""


class Answer(NamedTuple):
    """What the gate says of a reading then and now; a check's number, or why not."""

    reading_id: int
    at_utc_ns: int
    then: str
    now: str


class Regated(NamedTuple):
    """How many readings that count, and that were refused, were asked; and the other answers.

    `loose` are those that were not accepted for another reason than the gate's.
    """

    counting: int
    refused: int
    unlike: tuple[Answer, ...]
    loose: int = 0


class _OfThen(Passes):
    """Look-ups that know no ending of a pass that was recorded only after the reading.

    A reading and a re-adjustment behind it may carry one moment; the reading came first.
    """

    def covering(
        self, instrument: str, serial: str, reading_id: int
    ) -> tuple[Pass | None, Ending | None]:
        passed, ending = super().covering(instrument, serial, reading_id)
        return passed, ending if ending is not None and ending.at == _BEFORE else None


class _Shelved(NamedTuple):
    """A reader as the look-ups ask it."""

    reader: StoreReader

    def query(self, sql: str, arguments: Sequence[object] = ()) -> list[sqlite3.Row]:
        return self.reader.rows(sql, arguments)


def regate(reader: StoreReader, connection: int) -> Regated:
    """Ask the gate of every reading of a connection that passed it or was refused by it."""
    nowhere = Bench("replay", Path(), "", 0, (), ())
    at_arrival = Gatekeeper(nowhere, {}, _OfThen(_Shelved(reader)), Ids({}))
    by_a_person = Gatekeeper(nowhere, {}, Passes(_Shelved(reader)), Ids({}))
    counting = refused = 0
    unlike: list[Answer] = []
    with reader.snapshot():
        loose = reader.one(_LOOSE, (connection, f"{REFUSED}*"))
        for row in reader.rows(_ASKED, (connection, f"{REFUSED}*")):
            keeper = by_a_person if row["assigned"] else at_arrival
            verdict = keeper.ask_gate_of_the_past(
                row["instrument"],
                row["serial"],
                row["channel"],
                Instant(row["at_utc_ns"], 0),
                row["reading_id"],
                None if row["value"] is None else Decimal(row["value"]),
            )
            if row["passed"]:
                counting += 1
            else:
                refused += 1
            if verdict.check_id != row["check_id"]:
                unlike.append(
                    Answer(
                        row["reading_id"],
                        row["at_utc_ns"],
                        _answer(row["check_id"], "no check"),
                        _answer(verdict.check_id, verdict.message),
                    )
                )
    return Regated(counting, refused, tuple(unlike), loose)


def _answer(check_id: int | None, why_not: str) -> str:
    return f"shut: {why_not}" if check_id is None else f"open by check {check_id}"
