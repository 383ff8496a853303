"""A check judged again from what its judgement used, by the certificates of then or by others.

Readings by their numbers and the policy of then, out of the store. Reads; the thread of whoever
asks, with a query of its own.
"""

from __future__ import annotations

import sqlite3
from decimal import Decimal
from typing import NamedTuple

from acquire.calibration import judge, judge_broken_off
from acquire.calibration.edition import EDITIONS
from acquire.model import CheckPolicy, Judgement, read_policy_text
from acquire.model.verdict import ABANDONED
from acquire.pipeline.used import Used, pieces_used, read_used
from acquire.store.worked import Query

Values = dict[tuple[str, str], list[Decimal]]
"""Readings by piece and channel."""

_CHECK = """
SELECT c.instrument, c.policy_json, c.quantity, j.outcome, j.message, j.next_step, j.used_json,
    j.at_utc_ns, j.expires_utc_ns, j.least_real, j.most_real, j.presses
FROM check_begin AS c JOIN check_judgement AS j ON j.check_id = c.id WHERE c.id = ?"""
_LARGEST = 2**63 - 1


class ReadAgain(NamedTuple):
    """What counted, everything that was found, and readings that are not what they were."""

    counting: Values
    found: Values
    strange: list[str]


class UnusableError(Exception):
    """Why a judgement cannot be made again here, in words."""


def check_row(query: Query, check_id: int) -> sqlite3.Row | None:
    """A judged check; None where there is none of that number."""
    rows = query(_CHECK, (check_id,)) if check_id <= _LARGEST else []
    return rows[0] if rows else None


def used_of(text: str | None) -> Used:
    """What a judgement used. Raises `UnusableError` where that is not known or of other rules."""
    if text is None:
        raise UnusableError("it was judged before what it used was kept")
    try:
        used = read_used(text)
    except (ValueError, KeyError, TypeError):
        raise UnusableError("what it used cannot be read") from None
    if used.edition not in EDITIONS:
        raise UnusableError(
            f"it was judged by edition {used.edition} of the rules; here are "
            f"{' and '.join(map(str, EDITIONS))}"
        )
    return used


def read_again(query: Query, check_id: int, used: Used) -> ReadAgain:
    """The readings of a check as the store has them."""
    stored = {
        row["id"]: row
        for row in query(
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
    found = {k: voided.get(k, []) + counting.get(k, []) for k in keys}
    return ReadAgain(counting, found, strange)


def judged_from(row: sqlite3.Row, used: Used, readings: ReadAgain) -> Judgement:
    """The judgement of a check (`check_row`) made of these; a check that was broken off as one."""
    policy: CheckPolicy = read_policy_text(row["policy_json"])
    pieces = pieces_used(used, policy.quantity)
    if not used.is_broken_off:
        return judge(row["instrument"], policy, pieces, readings.counting, used.on, used.edition)
    # Why it was broken off is no matter of judgement: it stands as it was told.
    told = str(row["message"]).removeprefix(ABANDONED)

    def again(why: str) -> Judgement:
        return judge_broken_off(
            policy, pieces, readings.counting, readings.found, used.on, why, row["next_step"],
            used.edition,
        )  # fmt: skip

    tail = again("").message.removeprefix(ABANDONED)
    return again(told.removesuffix(tail))
