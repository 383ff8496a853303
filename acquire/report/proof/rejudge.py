"""A check judged again from what its judgement used: the same to the last digit and letter, or not.

Reads the store alone: readings by their numbers, the policy of then, the certificates as they were
used. The reader's thread.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from acquire.errors import NotFound
from acquire.model import (
    CheckPolicy,
    Instant,
    Judgement,
    LinearityJudgement,
    Outcome,
    PieceJudgement,
    iso_utc,
    read_policy_text,
)
from acquire.pipeline.certified import end_ns
from acquire.pipeline.judging_again import (
    ReadAgain,
    UnusableError,
    check_row,
    judged_from,
    read_again,
    used_of,
)
from acquire.pipeline.used import Used, pieces_used
from acquire.store import StoreReader

_Part = PieceJudgement | LinearityJudgement


class Rejudged(NamedTuple):
    """How a check was judged again. `unlike` says in words what came out otherwise.

    `why_not` says why nothing can be held against it: it was judged by other rules than today's.
    `withdrawn` is what is to be said of certificates that were withdrawn since.
    """

    check_id: int
    instrument: str
    outcome: str
    readings: int
    unlike: tuple[str, ...]
    why_not: str = ""
    withdrawn: tuple[str, ...] = ()

    @property
    def holds(self) -> bool:
        return not self.unlike and not self.why_not

    @property
    def lines(self) -> list[str]:
        """For a person."""
        return [*self._judged_lines, *(f"WITHDRAWN SINCE: {text}" for text in self.withdrawn)]

    @property
    def _judged_lines(self) -> list[str]:
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
        row = check_row(reader.rows, check_id)
        if row is None:
            raise NotFound(
                f"there is no judged check {check_id}",
                next_step="the page of results and the view checks of the store have the numbers",
            )
        try:
            used = used_of(row["used_json"])
        except UnusableError as why:
            return Rejudged(check_id, row["instrument"], row["outcome"], 0, (), str(why))
        policy = read_policy_text(row["policy_json"])
        readings = read_again(reader.rows, check_id, used)
        strange = [*readings.strange, *_certificates(reader, used)]
        judged = judged_from(row, used, readings)
        unlike = (
            *strange,
            *_differences(reader, check_id, row, judged),
            *_pass_differences(row, policy, used, judged),
            *_anew_differences(reader, check_id, row, readings),
        )
    return Rejudged(check_id, row["instrument"], row["outcome"], len(used.readings), unlike)


def rejudge_all(reader: StoreReader) -> Iterator[Rejudged]:
    """Every judged check of a store, in order."""
    for row in reader.rows("SELECT check_id FROM check_judgement ORDER BY check_id"):
        yield rejudge(reader, int(row["check_id"]))


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


def _anew_differences(
    reader: StoreReader, check_id: int, row: sqlite3.Row, readings: ReadAgain
) -> Iterator[str]:
    """What comes out otherwise of the judgements that were made without a withdrawn certificate."""
    for anew in reader.rows(
        "SELECT * FROM reassessment WHERE check_id = ? ORDER BY id", (check_id,)
    ):
        name = f"judged anew on {_moment(anew['at_utc_ns'])}: "
        try:
            used = used_of(anew["used_json"])
        except UnusableError:
            continue
        yield from (f"{name}{text}" for text in _certificates(reader, used))
        judged = judged_from(row, used, readings)
        for column in ("outcome", "message"):
            was, now = str(anew[column]), str(getattr(judged, column))
            if was != now:
                yield f"{name}{column} {was!r}, and now {now!r}"
        tables: tuple[tuple[str, str, dict[str, str], Sequence[_Part]], ...] = (
            ("reassessed_piece", "pieces", _ANEW, judged.pieces),
            ("reassessed_line", "straight lines", _LINE_ANEW, judged.linearity),
        )
        for table, what, columns, parts in tables:
            rows = reader.rows(
                f"SELECT * FROM {table} WHERE reassessment_id = ? ORDER BY id",  # noqa: S608
                (anew["id"],),
            )
            if len(rows) != len(parts):
                yield f"{name}{len(rows)} {what}, and now {len(parts)}"
                continue
            for stored, part in zip(rows, parts, strict=True):
                yield from (f"{name}{text}" for text in _row_differences(stored, part, columns))


_PIECE = {
    "piece": "piece", "channel": "channel", "outcome": "outcome", "readings": "count",
    "mean": "mean", "spread": "spread", "certified": "certified", "deviation": "deviation",
    "expanded_uncertainty": "expanded_uncertainty", "limit_": "limit",
    "spread_limit": "spread_limit", "unit": "unit", "message": "message",
}  # fmt: skip
_ANEW = {
    name: _PIECE[name]
    for name in (
        "piece", "channel", "outcome", "certified", "deviation", "expanded_uncertainty", "message",
    )
}  # fmt: skip
_LINE = {
    "piece": "piece", "channel": "channel", "zero": "zero", "high": "high", "outcome": "outcome",
    "departure": "departure", "expanded_uncertainty": "expanded_uncertainty", "limit_": "limit",
    "unit": "unit", "message": "message",
}  # fmt: skip
_LINE_ANEW = {
    name: _LINE[name]
    for name in ("piece", "channel", "outcome", "departure", "expanded_uncertainty", "message")
}


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


def _row_differences(stored: sqlite3.Row, part: _Part, columns: Mapping[str, str]) -> Iterator[str]:
    for column, name in columns.items():
        was, now = str(stored[column]), str(getattr(part, name))
        if was != now:
            yield f"{stored['piece']} {name.replace('_', ' ')} {was}, and now {now}"
