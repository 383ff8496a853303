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
    GivingUpRow,
    KeyOpeningRow,
    PhotoRow,
    RatingRow,
    WashRow,
)
from acquire.store.worked import Worked


@dataclass(frozen=True, slots=True)
class WorkRecord:
    """The rows of one trial, the oldest first; `openings` of its key, where it is blind."""

    applications: tuple[ApplicationRow, ...] = ()
    washes: tuple[WashRow, ...] = ()
    ratings: tuple[RatingRow, ...] = ()
    photos: tuple[PhotoRow, ...] = ()
    openings: tuple[KeyOpeningRow, ...] = ()
    given_up: tuple[GivingUpRow, ...] = ()


NO_WORK = WorkRecord()


def work_of(reader: StoreReader, plan: Plan) -> WorkRecord:
    """All of it."""
    worked = Worked(reader.rows)
    return WorkRecord(
        tuple(worked.applications(plan.id)),
        tuple(worked.washes(plan.id)),
        tuple(worked.ratings(plan.id)),
        tuple(worked.photos(plan.id)),
        tuple(worked.key_openings(plan.key_digest)) if plan.is_blind else (),
        tuple(worked.given_up(plan.id)),
    )
