"""Checks that rest on a certificate which was withdrawn as wrong later, and what they come to by
the one in its place.

No stored judgement changes by it. Work that may rest on a wrong figure is evaluated, and what
becomes of it is decided (ISO/IEC 17025:2017, 7.10, from memory): here by a person, who is told
whether a check passes by the certificate that stands in the place of the withdrawn one. Reads the
store; the reader's thread.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import NamedTuple

from acquire.errors import NotFound
from acquire.model import Certificate, Outcome, at_channel
from acquire.report.rejudge import judged_by
from acquire.store import StoreReader
from acquire.store.kept import Kept, KeptCertificate
from acquire.units import as_entered, symbol

DECIDE = (
    "decide what becomes of the readings: void them (coatbench void) and take them again under a "
    "new check; what can no more be taken is given up (coatbench trial give-up)"
)


# Readings that count by the passes of a check: those it opened, and those it closed.
_RESTING = """
SELECT t.trial, g.stage
FROM brackets AS b
JOIN (SELECT id, check_id, run_id FROM reading WHERE role = 'run' UNION ALL
      SELECT reading_id, check_id, run_id FROM assignment) AS q ON q.check_id = b.check_id
JOIN run AS g ON g.id = q.run_id JOIN trial AS t ON t.id = g.trial_id
WHERE b.state <> 'suspect' AND (b.check_id = ?1 OR b.closing_check_id = ?1)
  AND NOT EXISTS (SELECT 1 FROM void AS v WHERE v.reading_id = q.id)
GROUP BY t.trial, g.stage ORDER BY min(q.id)"""


class Undecided(NamedTuple):
    """A stage with readings that count by a check which does not pass by other certificates."""

    trial: str
    stage: str
    check_id: int
    what: str


class Withdrawals:
    """What was withdrawn of the register of one store."""

    def __init__(self, reader: StoreReader, kept: Kept | None = None) -> None:
        self._reader = reader
        # The last row of a certificate says whether it is withdrawn: figures, number and all else
        # of it stay as they were.
        latest: dict[tuple[object, ...], KeptCertificate] = {}
        rows = (kept or Kept(reader)).everything()
        for row in rows:
            latest[_figures(row.certificate)] = row
        self._latest = [row.certificate for row in latest.values()]
        self._held = {row.id: latest[_figures(row.certificate)].certificate for row in rows}

    def checks(self) -> list[int]:
        """The judged checks that were held against a certificate that is withdrawn now."""
        gone = [number for number, c in self._held.items() if c.withdrawn]
        marks = ", ".join("?" * len(gone))
        sql = "SELECT DISTINCT check_id FROM piece_judgement WHERE certificate_id "
        rows = self._reader.rows(f"{sql} IN ({marks}) ORDER BY check_id", gone) if gone else []
        return [row["check_id"] for row in rows]

    def words(self, check_id: int) -> list[str]:
        """What is to be said of a check, a line a withdrawn certificate; none for most checks."""
        return self._told(check_id, self._again(check_id)[1]) if self.gone(check_id) else []

    def undecided(self) -> list[Undecided]:
        """Where a person has to decide."""
        found: dict[tuple[str, str, str], Undecided] = {}
        for check_id in self.checks():
            rows = self._reader.rows(_RESTING, (check_id,))
            if not rows:
                continue
            passes, again = self._again(check_id)
            if passes:
                continue
            told = "; ".join(self._told(check_id, again))
            for row in rows:
                # The check that closes readings mostly has the certificate of the one before them.
                what = f"{row['stage']} rests on check {check_id}: {told}"
                one = Undecided(row["trial"], row["stage"], check_id, what)
                found.setdefault((one.trial, one.stage, told), one)
        return list(found.values())

    def gone(self, check_id: int) -> dict[tuple[str, str], Certificate]:
        """Those of a check that are withdrawn now, by piece and channel."""
        rows = self._reader.rows(
            "SELECT certificate_id FROM piece_judgement WHERE check_id = ? "
            "AND certificate_id IS NOT NULL ORDER BY id",
            (check_id,),
        )
        held = (self._held[row["certificate_id"]] for row in rows)
        return {(c.piece, c.channel): c for c in held if c.withdrawn}

    def _told(self, check_id: int, again: str) -> list[str]:
        found = dict.fromkeys(self.gone(check_id).values())
        return [f"{_withdrawn(c)}. {again}" for c in found]

    def _again(self, check_id: int) -> tuple[bool, str]:
        """Whether the check passes by the certificates in the place of the withdrawn ones."""
        try:
            judged = judged_by(self._reader, check_id, self._in_place)
        except NotFound as error:
            return False, f"By another one it cannot be judged again ({error.what}): {DECIDE}"
        if judged.outcome is Outcome.PASS:
            told = "By the one in its place the check passes too, and what rests on it stands"
            return True, told
        return False, (
            f"By the one in its place the check does not pass ({judged.outcome}): "
            f"{judged.message}. What rests on it counts until a person decides; {DECIDE}"
        )

    def _in_place(self, certificate_id: int | None, on: date) -> Certificate | None:
        """What stands in the place of a certificate on a day: itself where it was not withdrawn."""
        own = None if certificate_id is None else self._held.get(certificate_id)
        if own is None or not own.withdrawn:
            return own
        fitting = [
            c
            for c in self._latest
            if (c.piece, c.quantity, c.channel) == (own.piece, own.quantity, own.channel)
            and not c.withdrawn
            and c.issued <= on
        ]
        return max(fitting, key=lambda c: c.issued, default=None)


def _withdrawn(c: Certificate) -> str:
    value = f"{as_entered(c.value)} {symbol(c.unit)}".rstrip()
    return (
        f"the certificate of {c.piece}{at_channel(c.channel)} issued {c.issued} ({value}) was "
        f"withdrawn: {c.withdrawn}"
    )


def _figures(c: Certificate) -> tuple[object, ...]:
    return (
        c.piece, c.quantity, c.channel, c.issued, c.due, c.issuer,
        c.value, c.expanded_uncertainty, c.coverage_factor,
    )  # fmt: skip


def undecided_lines(store: Path) -> list[str]:
    """Where a person has to decide, a line each. Raises `CoatbenchError` as the reader."""
    with StoreReader(store) as reader:
        return [f"{one.trial}: {one.what}" for one in Withdrawals(reader).undecided()]
