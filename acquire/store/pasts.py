"""Looks up how an open run came to stand where it stands, so that it can go on from there.

Read-only, on the writer's own connection, in its thread.
"""

from __future__ import annotations

import json
import sqlite3
from typing import TYPE_CHECKING

from acquire.model import Slot, Target
from acquire.store.found import Filled, OpenRun, Past, Stand

if TYPE_CHECKING:
    from acquire.store.shelf import Queried

_READINGS = """SELECT q.reading_id, q.zone, q.stage, q.replicate, q.channel, q.value_real, q.run_id,
    q.counts, q.assigned_reason, v.id AS void_id, j.id AS judgement_id
FROM readings AS q LEFT JOIN void AS v ON v.reading_id = q.reading_id
LEFT JOIN check_judgement AS j ON j.check_id = q.closing_check_id AND q.bracket = 'suspect'
WHERE q.run_id IN (SELECT run_id FROM runs WHERE trial = ? AND measure = ? AND stage = ?)
  AND q.role = 'run' ORDER BY q.reading_id"""


def past_of(writer: Queried, run: OpenRun) -> Past:
    """The last recorded stand of a run, and what became of its places since."""
    moves = writer.query("SELECT * FROM move WHERE run_id = ? ORDER BY id DESC LIMIT 1", (run.id,))
    move = moves[0] if moves else None
    past = Past(None if move is None else _stand(move, run.stage), [], [], [], None)
    last_filled: int | None = None
    for row in writer.query(_READINGS, (run.trial.trial, run.measure, run.stage)):
        is_own = row["run_id"] == run.id
        # An assigned reading is older than its place: it was there before, as far as one can tell.
        is_taken = is_own and row["assigned_reason"] is None
        if is_taken:
            last_filled = row["reading_id"] if row["void_id"] is None else None
        is_lost = is_own and not row["counts"] and _was_lost_since(row, move)
        if not row["counts"] and not is_lost:
            continue
        filled = Filled(
            Slot(Target(row["zone"], row["stage"], row["replicate"]), row["channel"]),
            row["reading_id"],
            row["value_real"],
        )
        is_since = is_taken and row["reading_id"] > (0 if move is None else move["after_reading"])
        (past.since if is_since else past.before).append(filled)
        if is_lost:
            past.lost.append(filled)
    return past._replace(last_filled=last_filled)


def _was_lost_since(row: sqlite3.Row, move: sqlite3.Row | None) -> bool:
    """Whether a reading that does not count still counted at the time of a move."""
    lost_by = (
        (row["void_id"], 0 if move is None else move["after_void"]),
        (row["judgement_id"], 0 if move is None else move["after_judgement"]),
    )
    return all(number is None or number > limit for number, limit in lost_by)


def _stand(move: sqlite3.Row, stage: str) -> Stand:
    def one(zone: str | None, replicate: int | None) -> Target | None:
        return None if zone is None or replicate is None else Target(zone, stage, replicate)

    def several(text: str) -> frozenset[Target]:
        return frozenset(Target(zone, stage, replicate) for zone, replicate in json.loads(text))

    return Stand(
        one(move["zone"], move["replicate"]),
        one(move["resume_zone"], move["resume_replicate"]),
        several(move["reopened"]),
        several(move["skipped"]),
    )
