"""Whether a check held pieces to other limits than the one before it. Reads; any thread."""

from __future__ import annotations

from decimal import Decimal

from acquire.model import at_channel
from acquire.store.reader import StoreReader
from acquire.units import as_entered, symbol

_CHANGED = """
SELECT o.piece, o.channel, o.unit, o.limit_ AS now, w.limit_ AS before, w.check_id AS earlier
FROM check_begin AS c JOIN piece_judgement AS o ON o.check_id = c.id
JOIN piece_judgement AS w ON w.id = (
    SELECT p.id FROM piece_judgement AS p JOIN check_begin AS b ON b.id = p.check_id
    WHERE b.serial = c.serial AND b.quantity = c.quantity AND b.id < c.id
      AND p.piece = o.piece AND p.channel = o.channel
    ORDER BY b.id DESC LIMIT 1)
WHERE c.id = ? AND CAST(o.limit_ AS REAL) <> CAST(w.limit_ AS REAL) ORDER BY o.id"""


def changed_limits(store: StoreReader, check_id: int) -> list[str]:
    """A sentence for each piece whose limit is another than at the check before that read it.

    A policy may be changed by whoever may write it; that a gate was opened by it is told.
    """
    return [
        f"the limit of {row['piece']}{at_channel(row['channel'])} is {_said(row['now'])} "
        f"{symbol(row['unit'])} here and was {_said(row['before'])} {symbol(row['unit'])} at "
        f"check {row['earlier']}: its policy was "
        f"{'loosened' if float(row['now']) > float(row['before']) else 'tightened'} in between"
        for row in store.rows(_CHANGED, (check_id,))
    ]


def _said(text: str) -> str:
    return as_entered(Decimal(text))
