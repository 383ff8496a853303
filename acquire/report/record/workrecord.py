"""What people did and judged in a trial, as the store has it: no reading is among it.

Rows of applications, washes, ratings and photos, loaded with the trial. Any thread, with a reader
of its own.
"""

from __future__ import annotations

from dataclasses import dataclass

from acquire.model import Plan
from acquire.store.reader import StoreReader
from acquire.store.work_rows import (
    ApplicationRow,
    ApplicationVoidRow,
    GivingUpRow,
    KeyOpeningRow,
    PhotoRow,
    RatingRow,
    WashRow,
)
from acquire.store.worked import Worked


@dataclass(frozen=True, slots=True)
class WorkRecord:
    """The rows of one trial, the oldest first; `openings` of its key, where it is blind.

    `applications` are those that stand, `taken_back` the others, each with the row that says so.
    """

    applications: tuple[ApplicationRow, ...] = ()
    washes: tuple[WashRow, ...] = ()
    ratings: tuple[RatingRow, ...] = ()
    photos: tuple[PhotoRow, ...] = ()
    openings: tuple[KeyOpeningRow, ...] = ()
    given_up: tuple[GivingUpRow, ...] = ()
    taken_back: tuple[tuple[ApplicationRow, ApplicationVoidRow], ...] = ()


NO_WORK = WorkRecord()


def work_of(reader: StoreReader, plan: Plan) -> WorkRecord:
    """All of it."""
    worked = Worked(reader.rows)
    away = {void.application_id: void for void in worked.taken_back(plan.id)}
    applications = worked.every_application(plan.id)
    return WorkRecord(
        tuple(row for row in applications if row.id not in away),
        tuple(worked.washes(plan.id)),
        tuple(worked.ratings(plan.id)),
        tuple(worked.photos(plan.id)),
        tuple(worked.key_openings(plan.key_digest)) if plan.is_blind else (),
        tuple(worked.given_up(plan.id)),
        tuple((row, away[row.id]) for row in applications if row.id in away),
    )
