"""Checks that rest on a certificate which was withdrawn as wrong later, and what they come to by
the one in its place, in words.

The daemon judged them anew when it learned of it (`acquire.pipeline.reassessing`), and what rests
on one that does not pass is suspect since. Reads the store; the reader's thread.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from acquire.model import Certificate, Outcome, at_channel
from acquire.pipeline.judging_again import UnusableError, used_of
from acquire.pipeline.reassessing import InPlace
from acquire.report.words.wording import counted, day
from acquire.store import StoreReader
from acquire.store.kept import Kept
from acquire.store.placed import FILLED, REASSESSED
from acquire.store.registered import certificate_of
from acquire.units import as_entered, symbol

TAKE_AGAIN = (
    "take it again under a new check; what can no more be taken is given up "
    "(coatbench trial give-up)"
)

_NAMED = 5
"""So many checks are named beside the first of a line."""

STAYS = "stays so, since a certificate that comes after a check brings no reading back"

_LATEST = """SELECT w.outcome, w.message, w.used_json, j.outcome AS judged
FROM reassessment AS w JOIN check_judgement AS j ON j.check_id = w.check_id
WHERE w.check_id = ? ORDER BY w.id DESC LIMIT 1"""
_EVERY = """SELECT w.outcome, w.at_utc_ns, w.used_json, j.used_json AS own_json
FROM reassessment AS w JOIN check_judgement AS j ON j.check_id = w.check_id
WHERE w.check_id = ? ORDER BY w.id"""
_CAME_TO = {"pass": "passed", "fail": "failed", "undecided": "was undecided"}
_ANY_DOUBTED = "SELECT 1 FROM reassessment WHERE outcome <> 'pass' LIMIT 1"


class Suspected(NamedTuple):
    """A stage with places whose readings are suspect by checks that were judged anew.

    `check_id` is the first of them.
    """

    trial: str
    stage: str
    check_id: int
    what: str


class Withdrawals:
    """What was withdrawn of the register of one store."""

    def __init__(self, reader: StoreReader, kept: Kept | None = None) -> None:
        self._reader = reader
        rows = (kept or Kept(reader)).rows
        self._withdrawn = {
            number: certificate_of(row) for number, row in InPlace(rows).withdrawn.items()
        }

    def checks(self) -> list[int]:
        """The judged checks that were held against a certificate that is withdrawn now."""
        gone = list(self._withdrawn)
        marks = ", ".join("?" * len(gone))
        sql = "SELECT DISTINCT check_id FROM piece_judgement WHERE certificate_id "
        rows = self._reader.rows(f"{sql} IN ({marks}) ORDER BY check_id", gone) if gone else []
        return [row["check_id"] for row in rows]

    def words(self, check_id: int) -> list[str]:
        """What is to be said of a check, a line a withdrawn certificate; none for most checks."""
        found = dict.fromkeys(self.gone(check_id).values())
        again = self._again(self._reader.rows(_LATEST, (check_id,))) if found else ""
        return [f"{_words_of(c)}. {again}" for c in found]

    def restored(self, check_id: int) -> list[str]:
        """That a certificate of a check was withdrawn for a while, and what it came to meanwhile.

        A line where its judgement of then stands again, none otherwise: whoever tries figures until
        one pleases is to be seen by it.
        """
        rows = self._reader.rows(_EVERY, (check_id,))
        if not rows or rows[-1]["used_json"] != rows[-1]["own_json"]:
            return []
        tried = [f"{_CAME_TO[row['outcome']]} on {day(row['at_utc_ns'])}" for row in rows[:-1]]
        if not tried:
            return []
        return [
            "a certificate that it rests on was withdrawn for a while. Judged anew without that it "
            f"{', then '.join(tried)}. Since {day(rows[-1]['at_utc_ns'])} the certificate stands "
            "again, and so does the judgement of then"
        ]

    def suspected(self) -> list[Suspected]:
        """Stages of which readings are suspect by it and have not been taken again."""
        if not self._reader.rows(_ANY_DOUBTED):
            return []
        stages: dict[tuple[str, str, str], dict[int, set[tuple[object, ...]]]] = {}
        for trial, measure, stage, *place, check_id in self._reader.rows(REASSESSED):
            own = stages.setdefault((trial, measure, stage), {})
            own.setdefault(check_id, set()).add(tuple(place))
        found = []
        for (trial, measure, stage), checks in stages.items():
            filled = {
                (row["zone"], row["replicate"], row["channel"])
                for row in self._reader.rows(FILLED, (trial, measure, stage))
            }
            left = {check_id: places - filled for check_id, places in checks.items()}
            by_check = {check_id: len(places) for check_id, places in left.items() if places}
            if by_check:
                number = sum(by_check.values())
                verb = "rests" if number == 1 else "rest"
                what = (
                    f"{counted(number, 'reading')} of {measure} at {stage} {verb} on "
                    f"{self._of_checks(list(by_check), trial)}"
                )
                found.append(Suspected(trial, stage, min(by_check), what))
        return found

    def _of_checks(self, ids: Sequence[int], trial: str) -> str:
        """One line, however many checks there are: in years of checks they would bury all else."""
        first, *others = sorted(ids)
        words = "; ".join(self.words(first))
        if not others:
            return f"check {first}: {words}"
        named = ", ".join(str(one) for one in (first, *others[:_NAMED]))
        more = f" and {len(others) - _NAMED} more" if len(others) > _NAMED else ""
        return f"checks {named}{more}. Of check {first}: {words}. coatbench report {trial} has each"

    def gone(self, check_id: int) -> dict[tuple[str, str], Certificate]:
        """Those of a check that are withdrawn now, by piece and channel."""
        rows = self._reader.rows(
            "SELECT certificate_id FROM piece_judgement WHERE check_id = ? "
            "AND certificate_id IS NOT NULL ORDER BY id",
            (check_id,),
        )
        held = (self._withdrawn.get(row["certificate_id"]) for row in rows)
        return {(c.piece, c.channel): c for c in held if c is not None}

    def _again(self, rows: Sequence[sqlite3.Row]) -> str:
        """What the check comes to by the certificates in the place of the withdrawn ones."""
        if not rows:
            return "It has not been judged anew yet: coatbench serve does so when it starts"
        (row,) = rows
        passed = row["judged"] == Outcome.PASS
        if row["outcome"] == Outcome.PASS:
            return (
                "By the one in its place the check passes too, and what rests on it stands"
                if passed
                else "By the one in its place the check would have passed. What it made suspect "
                f"{STAYS}"
            )
        told = (
            f"By the one in its place the check does not pass ({row['outcome']}): {row['message']}"
        )
        if not passed:
            return told
        closed = " and closed" if row["outcome"] == Outcome.FAIL else ""
        tail = f". That one does not stand any more, and what it made suspect {STAYS}"
        return (
            f"{told}. What it opened{closed} is suspect and left out of the results: {TAKE_AGAIN}"
            f"{'' if self._stands(row) else tail}"
        )

    def _stands(self, row: sqlite3.Row) -> bool:
        """Whether all certificates stand that a check was judged anew by."""
        try:
            used = used_of(row["used_json"])
        except UnusableError:
            return True
        return not any(one.row_id in self._withdrawn for one in used.certificates)


def _words_of(c: Certificate) -> str:
    value = f"{as_entered(c.value)} {symbol(c.unit)}".rstrip()
    return (
        f"the certificate of {c.piece}{at_channel(c.channel)} issued {c.issued} ({value}) was "
        f"withdrawn: {c.withdrawn}"
    )


def suspected_lines(store: Path) -> list[str]:
    """What is suspect by it and open, a line each. Raises `CoatbenchError` as the reader."""
    with StoreReader(store) as reader:
        return [f"{one.trial}: {one.what}" for one in Withdrawals(reader).suspected()]
