"""The proof of one check: judged again, its readings from their bytes, its rows by their seals.

Reads the store alone. The reader's thread.
"""

from __future__ import annotations

from pathlib import Path

from acquire.driverapi.registry import Registry
from acquire.report.proof.again import Replay, replayed
from acquire.report.proof.rejudge import Rejudged, rejudge
from acquire.report.record.soundness import words
from acquire.report.record.withdrawn import Withdrawals
from acquire.store import StoreReader
from acquire.store.verify import misfit_since


def prove_check(store: Path, check_id: int, registry: Registry | None = None) -> Rejudged:
    """Judge a check again and hold what it was judged from against tape and seals.

    Raises `NotFound`, and `StoreError` if the store cannot be read.
    """
    with StoreReader(store) as reader:
        found = rejudge(reader, check_id)
        unlike = [*found.unlike, *_readings(reader, check_id, registry or Registry())]
        misfit = misfit_since(reader, _first(reader, check_id))
        if misfit is not None:
            unlike.append(words(misfit))
        withdrawals = Withdrawals(reader)
        since = (*withdrawals.words(check_id), *withdrawals.restored(check_id))
    return found._replace(unlike=tuple(unlike), withdrawn=since)


def _readings(reader: StoreReader, check_id: int, registry: Registry) -> list[str]:
    """Readings of the check that their bytes do not give as they are stored."""
    played: dict[int, Replay] = {}
    told: list[str] = []
    rows = reader.rows(
        "SELECT * FROM readings WHERE role = 'check' AND check_id = ? ORDER BY reading_id",
        (check_id,),
    )
    for row in rows:
        number = int(row["connection_id"])
        if number not in played:
            own = [r for r in rows if r["connection_id"] == number]
            places = [(r["raw_start"], r["raw_end"]) for r in own]
            played[number] = replayed(reader, number, registry, places)
        told += [f"reading {row['reading_id']}: {one}" for one in played[number].unlike(dict(row))]
    return told


def _first(reader: StoreReader, check_id: int) -> dict[str, int]:
    connection = reader.one(
        "SELECT min(connection_id) FROM reading WHERE check_id = ? AND role = 'check'", (check_id,)
    )
    first = {"check_begin": check_id}
    return first if connection is None else {**first, "connection": int(connection)}
