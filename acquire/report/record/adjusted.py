"""A meter as it was found before a re-adjustment, and as it was left after it.

The last check before says how wrong earlier readings may be, the first one after how right later
ones are (ISO/IEC 17025:2017, 7.8.4.1 d asks both of a calibration). Reads the store; never writes.
"""

from __future__ import annotations

import sqlite3
from decimal import Decimal
from typing import NamedTuple

from acquire.calibration.edition import EDITION
from acquire.calibration.written import written_by
from acquire.model import at_channel, read_policy_text
from acquire.store.reader import StoreReader
from acquire.units import symbol

# The last check of the same meter before this one that found a figure; told where the meter was
# re-adjusted between the two.
_FOUND = """
SELECT check_id FROM (
    SELECT p.check_id, p.after_reading, c.serial, own.after_reading AS until
    FROM check_judgement AS own JOIN check_begin AS c ON c.id = own.check_id
    JOIN check_begin AS b ON b.serial = c.serial AND b.quantity = c.quantity AND b.id < c.id
    JOIN check_judgement AS p ON p.check_id = b.id
    WHERE own.check_id = ? AND EXISTS (
        SELECT 1 FROM piece_judgement AS j
        WHERE j.check_id = p.check_id AND CAST(j.expanded_uncertainty AS REAL) > 0)
    ORDER BY b.id DESC LIMIT 1) AS before
WHERE EXISTS (
    SELECT 1 FROM notice AS n WHERE n.serial = before.serial AND n.kind = 'adjusted'
      AND n.after_reading >= before.after_reading AND n.after_reading < before.until)"""


# By the certificate that stands in the place of one that was withdrawn as wrong, where one does.
_DEVIATIONS = """
SELECT p.piece, p.channel, p.unit, c.policy_json, p.deviation <> w.deviation AS is_anew,
    coalesce(w.deviation, p.deviation) AS deviation,
    coalesce(w.expanded_uncertainty, p.expanded_uncertainty) AS expanded_uncertainty
FROM piece_judgement AS p JOIN check_begin AS c ON c.id = p.check_id
LEFT JOIN reassessed_piece AS w ON w.piece = p.piece AND w.channel = p.channel
    AND w.reassessment_id = (SELECT max(x.id) FROM reassessment AS x WHERE x.check_id = p.check_id)
    AND CAST(w.expanded_uncertainty AS REAL) > 0
WHERE p.check_id = ? AND CAST(p.expanded_uncertainty AS REAL) > 0 ORDER BY p.id"""

_USED = """SELECT EXISTS (SELECT 1 FROM reading WHERE check_id = ?1 AND role = 'run')
    OR EXISTS (SELECT 1 FROM assignment WHERE check_id = ?1)"""


class Adjustment(NamedTuple):
    """What the last check before a re-adjustment found, and the first one after it, in words."""

    found_by: int
    as_found: str
    as_left: str
    was_used: bool = False
    """Whether readings came after the check before: then it is not how the meter was found."""


def adjustment_before(store: StoreReader, check_id: int) -> Adjustment | None:
    """Where a check is the first one after a re-adjustment; None otherwise."""
    found = store.one(_FOUND, (check_id,))
    if found is None:
        return None
    before, after = _deviations(store, int(found)), _deviations(store, check_id)
    if not before or not after:
        return None
    return Adjustment(int(found), before, after, bool(store.one(_USED, (int(found),))))


def _deviations(store: StoreReader, check_id: int) -> str:
    rows: list[sqlite3.Row] = store.rows(_DEVIATIONS, (check_id,))
    told = ", ".join(
        f"{p['piece']}{at_channel(p['channel'])} {_written(p)} {symbol(p['unit'])}".rstrip()
        for p in rows
    )
    others = dict.fromkeys(p["piece"] for p in rows if p["is_anew"])
    if not others:
        return told
    return f"{told} ({' and '.join(others)} by the certificate that the check was judged anew by)"


def _written(row: sqlite3.Row) -> str:
    resolution = read_policy_text(row["policy_json"]).resolution
    write = written_by(EDITION, Decimal(row["expanded_uncertainty"]), resolution)
    return write.signed(Decimal(row["deviation"]))
