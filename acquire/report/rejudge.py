"""A check judged again from what its judgement used: the same to the last digit and letter, or not.

Reads the store alone: readings by their numbers, the policy of then, the certificates as they were
used. The reader's thread.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Sequence
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from acquire.calibration import judge, judge_broken_off
from acquire.calibration.edition import EDITIONS
from acquire.errors import NotFound
from acquire.model import (
    Certificate,
    CheckPolicy,
    Instant,
    Judgement,
    LinearityJudgement,
    Outcome,
    PieceJudgement,
    iso_utc,
    read_policy_text,
)
from acquire.model.verdict import ABANDONED
from acquire.pipeline.certified import end_ns
from acquire.pipeline.used import Used, pieces_used, read_used
from acquire.store import StoreReader

_CHECK = """
SELECT c.instrument, c.policy_json, c.quantity, j.outcome, j.message, j.next_step, j.used_json,
    j.at_utc_ns, j.expires_utc_ns, j.least_real, j.most_real, j.presses
FROM check_begin AS c JOIN check_judgement AS j ON j.check_id = c.id WHERE c.id = ?"""
_LARGEST = 2**63 - 1

_Part = PieceJudgement | LinearityJudgement
Values = dict[tuple[str, str], list[Decimal]]


class Rejudged(NamedTuple):
    """How a check was judged again. `unlike` says in words what came out otherwise.

    `why_not` says why nothing can be held against it: it was judged by other rules than today's.
    """

    check_id: int
    instrument: str
    outcome: str
    readings: int
    unlike: tuple[str, ...]
    why_not: str = ""

    @property
    def holds(self) -> bool:
        return not self.unlike and not self.why_not

    @property
    def lines(self) -> list[str]:
        """For a person."""
        name = f"check {self.check_id} of {self.instrument}"
        if self.why_not:
            return [f"{name} cannot be judged again digit for digit: {self.why_not}"]
        if self.unlike:
            return [f"{name} does NOT come out as it was judged:", *self.unlike]
        count = f"{self.readings} reading{'' if self.readings == 1 else 's'}"
        return [
            f"{name}: {self.outcome.upper()}",
            f"judged again from its {count}, by the certificates and the policy of then: the same "
            "outcome, figures and words",
        ]


def rejudge(reader: StoreReader, check_id: int) -> Rejudged:
    """Judge a check again. Raises `NotFound` where there is no such judged check."""
    with reader.snapshot():
        rows = reader.rows(_CHECK, (check_id,)) if check_id <= _LARGEST else []
        if not rows:
            raise NotFound(
                f"there is no judged check {check_id}",
                next_step="the page of results and the view checks of the store have the numbers",
            )
        (row,) = rows
        if row["used_json"] is None:
            return _not_comparable(check_id, row, "it was judged before what it used was kept")
        try:
            used = read_used(row["used_json"])
        except (ValueError, KeyError, TypeError):
            return _not_comparable(check_id, row, "what it used cannot be read")
        if used.edition not in EDITIONS:
            why = (
                f"it was judged by edition {used.edition} of the rules; here are "
                f"{' and '.join(map(str, EDITIONS))}"
            )
            return _not_comparable(check_id, row, why)
        policy = read_policy_text(row["policy_json"])
        counting, found, strange = _readings(reader, check_id, used)
        strange += _certificates(reader, used)
        judged = _judged(row, policy, used, counting, found)
        unlike = (
            *strange,
            *_differences(reader, check_id, row, judged),
            *_pass_differences(row, policy, used, judged),
        )
    return Rejudged(check_id, row["instrument"], row["outcome"], len(used.readings), unlike)


def judged_by(
    reader: StoreReader,
    check_id: int,
    in_place: Callable[[int | None, date], Certificate | None],
) -> Judgement:
    """What a check would come to by other certificates; nothing is stored.

    `in_place` gives what stands for the certificate of a row on the day of the check, or None.
    Raises `NotFound` where what it was judged from is not kept.
    """
    (row,) = reader.rows(_CHECK, (check_id,))
    try:
        used = read_used(row["used_json"] or "")
    except (ValueError, KeyError, TypeError):
        used = None
    if used is None or used.edition not in EDITIONS:
        raise NotFound(f"what check {check_id} was judged from cannot be read here")
    policy = read_policy_text(row["policy_json"])
    counting, found, _ = _readings(reader, check_id, used)
    others = tuple(
        one._replace(
            value=str(c.value),
            unit=c.unit,
            expanded_uncertainty=str(c.expanded_uncertainty),
            coverage_factor=str(c.coverage_factor),
            issued=c.issued.isoformat(),
            due=c.due.isoformat(),
        )
        for one in used.certificates
        if (c := in_place(one.row_id, used.on)) is not None
    )
    return _judged(row, policy, used._replace(certificates=others), counting, found)


def rejudge_all(reader: StoreReader) -> Iterator[Rejudged]:
    """Every judged check of a store, in order."""
    for row in reader.rows("SELECT check_id FROM check_judgement ORDER BY check_id"):
        yield rejudge(reader, int(row["check_id"]))


def _not_comparable(check_id: int, row: sqlite3.Row, why: str) -> Rejudged:
    return Rejudged(check_id, row["instrument"], row["outcome"], 0, (), why)


def _readings(reader: StoreReader, check_id: int, used: Used) -> tuple[Values, Values, list[str]]:
    """What counted, everything that was found, and readings that are not what they were."""
    stored = {
        row["id"]: row
        for row in reader.rows(
            "SELECT id, check_id, piece, channel, value, value_real FROM reading "
            "WHERE check_id = ?",
            (check_id,),
        )
    }
    counting: Values = {}
    voided: Values = {}
    strange: list[str] = []
    for one in used.readings:
        row = stored.get(one.reading_id)
        if row is None or (row["piece"], row["channel"]) != (one.piece, one.channel):
            strange.append(f"reading {one.reading_id} is no reading of {one.piece} in this check")
            continue
        if row["value"] is None or row["value_real"] != float(row["value"]):
            strange.append(
                f"reading {one.reading_id} has the value {row['value']}, and {row['value_real']} "
                "as a number"
            )
        if row["value"] is None:
            continue
        values = voided if one.is_void else counting
        values.setdefault((one.piece, one.channel), []).append(Decimal(row["value"]))
    keys = voided | counting
    return counting, {k: voided.get(k, []) + counting.get(k, []) for k in keys}, strange


def _certificates(reader: StoreReader, used: Used) -> list[str]:
    """Certificates that were used otherwise than the store has them."""
    unlike = []
    for one in used.certificates:
        rows = reader.rows("SELECT * FROM certificate WHERE id = ?", (one.row_id,))
        same = bool(rows) and all(
            Decimal(rows[0][name]) == Decimal(getattr(one, name))
            for name in ("value", "expanded_uncertainty", "coverage_factor")
        )
        if not same or any(
            rows[0][name] != getattr(one, name) for name in ("piece", "channel", "issued", "due")
        ):
            unlike.append(f"the certificate of {one.piece} is not the one in the register")
    return unlike


def _judged(
    row: sqlite3.Row, policy: CheckPolicy, used: Used, counting: Values, found: Values
) -> Judgement:
    pieces = pieces_used(used, policy.quantity)
    if not used.is_broken_off:
        return judge(row["instrument"], policy, pieces, counting, used.on, used.edition)
    # Why it was broken off is no matter of judgement: it stands as it was told.
    told = str(row["message"]).removeprefix(ABANDONED)

    def again(why: str) -> Judgement:
        return judge_broken_off(
            policy, pieces, counting, found, used.on, why, row["next_step"], used.edition
        )

    tail = again("").message.removeprefix(ABANDONED)
    return again(told.removesuffix(tail))


_PIECE = {
    "piece": "piece", "channel": "channel", "outcome": "outcome", "readings": "count",
    "mean": "mean", "spread": "spread", "certified": "certified", "deviation": "deviation",
    "expanded_uncertainty": "expanded_uncertainty", "limit_": "limit",
    "spread_limit": "spread_limit", "unit": "unit", "message": "message",
}  # fmt: skip
_LINE = {
    "piece": "piece", "channel": "channel", "zero": "zero", "high": "high", "outcome": "outcome",
    "departure": "departure", "expanded_uncertainty": "expanded_uncertainty", "limit_": "limit",
    "unit": "unit", "message": "message",
}  # fmt: skip


def _differences(
    reader: StoreReader, check_id: int, row: sqlite3.Row, judged: Judgement
) -> Iterator[str]:
    for name in ("outcome", "message", "next_step"):
        was, now = str(row[name]), str(getattr(judged, name))
        if was != now:
            yield f"{name.replace('_', ' ')} {was!r}, and now {now!r}"
    tables: tuple[tuple[str, dict[str, str], Sequence[_Part]], ...] = (
        ("piece_judgement", _PIECE, judged.pieces),
        ("linearity_judgement", _LINE, judged.linearity),
    )
    for table, columns, parts in tables:
        rows = reader.rows(f"SELECT * FROM {table} WHERE check_id = ? ORDER BY id", (check_id,))  # noqa: S608 - our own names
        if len(rows) != len(parts):
            yield f"{len(rows)} rows of {table}, and now {len(parts)}"
            continue
        for stored, part in zip(rows, parts, strict=True):
            yield from _row_differences(stored, part, columns)


def _pass_differences(
    row: sqlite3.Row, policy: CheckPolicy, used: Used, judged: Judgement
) -> Iterator[str]:
    """What the pass covers otherwise than its policy and certificates let it."""
    passed = judged.outcome is Outcome.PASS
    span = policy.span if passed else None
    wanted = {
        "least_real": None if span is None else float(span[0]),
        "most_real": None if span is None else float(span[1]),
        "presses": policy.valid_for_presses if passed else None,
    }
    for column, now in wanted.items():
        if row[column] != now:
            yield f"{column.removesuffix('_real')} covered {row[column]}, and now {now}"
    was = row["expires_utc_ns"]
    if not passed or was is None:
        if passed or was is not None:
            yield f"expiry {_moment(was)}, and now {'one' if passed else 'none'}"
        return
    at_ns = int(row["at_utc_ns"])
    due_ns = end_ns(
        certificate
        for piece in pieces_used(used, policy.quantity).values()
        for certificate in piece.certificates
    )
    by_time_ns = at_ns + round(policy.valid_for_s * 1e9)
    now_ns = by_time_ns if due_ns is None else min(by_time_ns, due_ns)
    # Certificates go by the latest time that any clock has told: behind a clock that was set back
    # a pass ends sooner, by as much as it was set back.
    is_sooner = due_ns is not None and was < now_ns and used.on > _day(at_ns)
    if was != now_ns and not is_sooner:
        yield f"expiry {_moment(was)}, and now {_moment(now_ns)}"


def _moment(utc_ns: int | None) -> str:
    return "none" if utc_ns is None else iso_utc(utc_ns)


def _day(utc_ns: int) -> date:
    return Instant(utc_ns, 0).utc().date()


def _row_differences(stored: sqlite3.Row, part: _Part, columns: dict[str, str]) -> Iterator[str]:
    for column, name in columns.items():
        was, now = str(stored[column]), str(getattr(part, name))
        if was != now:
            yield f"{stored['piece']} {name.replace('_', ' ')} {was}, and now {now}"
