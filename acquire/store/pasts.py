"""Looks up how an open run came to stand where it stands, so that it can go on from there.

Read-only, on the writer's own connection, in its thread.
"""

from __future__ import annotations

import json
import sqlite3
from typing import TYPE_CHECKING, NamedTuple

from acquire.model import Slot, Target
from acquire.store.found import Filled, OpenRun, Past, Stand

if TYPE_CHECKING:
    from acquire.store.queried import Queried

_READINGS = """SELECT q.reading_id, q.zone, q.stage, q.replicate, q.channel, q.value_real, q.run_id,
    q.counts, q.assigned_reason, v.id AS void_id, j.id AS judgement_id,
    v.at_utc_ns AS void_utc_ns, j.at_utc_ns AS judgement_utc_ns,
    a.id AS notice_id, a.at_utc_ns AS notice_utc_ns, a.after_reading AS notice_after,
    w.id AS reassessment_id, w.at_utc_ns AS reassessment_utc_ns, w.after_move
FROM readings AS q LEFT JOIN void AS v ON v.reading_id = q.reading_id
LEFT JOIN reassessment AS w ON w.id = q.reassessment_id
LEFT JOIN check_judgement AS j ON j.check_id = q.closing_check_id AND q.bracket = 'suspect'
    AND w.id IS NULL
LEFT JOIN notice AS a ON a.id = q.adjusted_id AND q.bracket = 'suspect' AND w.id IS NULL
WHERE q.run_id IN (SELECT run_id FROM runs WHERE trial = ? AND measure = ? AND stage = ?)
  AND q.role = 'run' ORDER BY q.reading_id"""


def past_of(writer: Queried, run: OpenRun) -> Past:
    """The last recorded stand of a run, and what became of its places since."""
    moves = writer.query("SELECT * FROM move WHERE run_id = ? ORDER BY id DESC LIMIT 1", (run.id,))
    move = moves[0] if moves else None
    past = Past(None if move is None else _stand(move, run.stage), [], [], [], None, None)
    last_filled: int | None = None
    last_taken: int | None = None
    lost: list[tuple[_Loss, Filled]] = []
    for row in writer.query(_READINGS, (run.trial.trial, run.measure, run.stage)):
        is_own = row["run_id"] == run.id
        # An assigned reading is older than its place: it was there before, as far as one can tell.
        is_taken = is_own and row["assigned_reason"] is None
        if is_taken:
            last_taken = row["reading_id"]
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
            lost.append((_loss(row), filled))
    lost.sort(key=lambda one: (one[0], one[1].reading_id))
    first = next(
        (f.reading_id for loss, f in lost if f.reading_id == last_taken and loss.kind == _VOID),
        None,
    )
    return past._replace(lost=[f for _, f in lost], first=first, last_filled=last_filled)


class _Loss(NamedTuple):
    """What a reading was lost by, in the order in which such things happened.

    Voids, judgements, re-adjustments and reassessments are numbered each by themselves, so that the
    clock alone tells which of them came first.
    """

    at_utc_ns: int
    kind: int
    number: int


_VOID, _JUDGEMENT, _NOTICE, _REASSESSMENT = 0, 1, 2, 3


def _loss(row: sqlite3.Row) -> _Loss:
    """What came first of that which makes a reading count no more."""
    return min(
        _Loss(row[f"{name}_utc_ns"], kind, row[f"{name}_id"])
        for kind, name in (
            (_VOID, "void"),
            (_JUDGEMENT, "judgement"),
            (_NOTICE, "notice"),
            (_REASSESSMENT, "reassessment"),
        )
        if row[f"{name}_id"] is not None
    )


def _was_lost_since(row: sqlite3.Row, move: sqlite3.Row | None) -> bool:
    """Whether a reading that does not count still counted at the time of a move."""
    lost_by = (
        (row["void_id"], 0 if move is None else move["after_void"]),
        (row["judgement_id"], 0 if move is None else move["after_judgement"]),
    )
    # A move does not say which notice it came after: the last reading before does, or the clock.
    is_adjusted_since = (
        row["notice_id"] is None
        or move is None
        or (row["notice_after"], row["notice_utc_ns"]) > (move["after_reading"], move["at_utc_ns"])
    )
    is_reassessed_since = (
        row["reassessment_id"] is None or move is None or row["after_move"] >= move["id"]
    )
    return (
        is_adjusted_since
        and is_reassessed_since
        and all(number is None or number > limit for number, limit in lost_by)
    )


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
