"""What moves the cursor of a run other than its readings, and how it stands again after a restart.

Runs on the desk's thread.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import NamedTuple

from acquire.model import Instant, Measure, Plan, Target
from acquire.pipeline.course import Course, Filling
from acquire.pipeline.ids import Ids
from acquire.pipeline.under_way import RunUnderWay
from acquire.pipeline.wanted import wanted_targets
from acquire.store import rows as r
from acquire.store.check_rows import CheckJudgementRow
from acquire.store.found import MadeSuspect, OpenRun
from acquire.store.move_rows import MoveRow
from acquire.store.rows import Row
from acquire.store.shelf import Shelf


class CourseAgain(NamedTuple):
    """The course of an interrupted run. `is_other` where readings were lost meanwhile."""

    course: Course
    is_other: bool
    last_filled: int | None


def course_again(
    shelf: Shelf, found: OpenRun, plan: Plan, measure: Measure, channels: tuple[str, ...]
) -> CourseAgain:
    """The course of an interrupted run as it stood: from its last recorded stand on, all anew."""
    past = shelf.past(found)
    held = [slot for slot, *_ in (*past.before, *past.since)]
    course = Course(
        wanted_targets(shelf, plan, measure, found.stage, held),
        channels,
        {slot: Filling(reading_id, value) for slot, reading_id, value in past.before},
    )
    if past.stand is not None:
        course.stand_at(past.stand)
    for slot, reading_id, value in past.since:
        if course.is_open(slot):
            course.fill_at(slot, Filling(reading_id, value))
    for slot, reading_id, _ in past.lost:
        course.reopen(slot, reading_id, first=reading_id == past.first)
    return CourseAgain(course, bool(past.lost), past.last_filled)


def reopen_suspects(
    ids: Ids, shelf: Shelf, run: RunUnderWay, by: MadeSuspect, at: Instant
) -> list[Row]:
    """Open the places of readings that these checks and re-adjustments made suspect."""
    left = run.course.next
    suspect = shelf.made_suspect(by, run.plan.id, run.measure.id, run.stage)
    reopened = [run.course.reopen(slot, reading_id) for slot, reading_id, _ in suspect]
    return [move_row(ids, run.id, run.course, "check", left, at)] if any(reopened) else []


def move_row(
    ids: Ids, run_id: int, course: Course, how: str, left: Target | None, at: Instant
) -> MoveRow:
    """Where a run stands now that something moved it from the target it left."""
    stand = course.stand
    return MoveRow(
        ids.take(MoveRow),
        at.utc_ns,
        run_id,
        how,
        *_tags(left),
        *_tags(stand.at),
        ids.last(r.ReadingRow),
        *_tags(stand.resume),
        _listed(stand.reopened),
        _listed(stand.skipped),
        ids.last(r.VoidRow),
        ids.last(CheckJudgementRow),
    )


def _tags(target: Target | None) -> tuple[str | None, int | None]:
    return (None, None) if target is None else (target.zone, target.replicate)


def _listed(targets: Iterable[Target]) -> str:
    return json.dumps(sorted((t.zone, t.replicate) for t in targets))
