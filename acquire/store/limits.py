"""Whether a check held pieces to other limits than the one before it. Reads; any thread."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from acquire.model import at_channel, read_policy_text
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

_LINE_CHANGED = """
SELECT b.id AS earlier, b.policy_json AS before, c.policy_json AS now
FROM check_begin AS c JOIN check_begin AS b ON b.id = (
    SELECT max(e.id) FROM check_begin AS e
    WHERE e.serial = c.serial AND e.quantity = c.quantity AND e.id < c.id)
WHERE c.id = ? AND b.policy_json <> c.policy_json"""


_CERTIFIED = """
SELECT o.piece, o.channel, o.unit, o.certified AS now, w.certified AS before, w.check_id AS earlier
FROM check_begin AS c JOIN piece_judgement AS o ON o.check_id = c.id
JOIN piece_judgement AS w ON w.id = (
    SELECT p.id FROM piece_judgement AS p JOIN check_begin AS b ON b.id = p.check_id
    WHERE b.serial = c.serial AND b.quantity = c.quantity AND b.id < c.id
      AND p.piece = o.piece AND p.channel = o.channel
      AND CAST(p.expanded_uncertainty AS REAL) > 0
    ORDER BY b.id DESC LIMIT 1)
WHERE c.id = ? AND CAST(o.expanded_uncertainty AS REAL) > 0 AND o.unit = w.unit
    AND CAST(o.certified AS REAL) <> CAST(w.certified AS REAL) ORDER BY o.id"""


def changed_values(store: StoreReader, check_id: int) -> list[str]:
    """A sentence for each piece that is held to another certified value than at the check before.

    So it is after every renewal, and after a figure that was entered because a check failed.
    """
    return [
        f"{row['piece']}{at_channel(row['channel'])} is certified {_said(row['now'])} "
        f"{symbol(row['unit'])} here and was certified {_said(row['before'])} "
        f"{symbol(row['unit'])} at check {row['earlier']}"
        for row in store.rows(_CERTIFIED, (check_id,))
    ]


def changed_limits(store: StoreReader, check_id: int) -> list[str]:
    """A sentence for each piece whose limit is another than at the check before that read it, and
    for the straight line that the meter is held to.

    A policy may be changed by whoever may write it; that a gate was opened by it is told.
    """
    return [*_of_pieces(store, check_id), *_of_line(store, check_id)]


def _of_line(store: StoreReader, check_id: int) -> Iterator[str]:
    for row in store.rows(_LINE_CHANGED, (check_id,)):
        before, now = (read_policy_text(row[one]) for one in ("before", "now"))
        old, new = before.linearity_limit, now.linearity_limit
        if old == new or before.unit != now.unit:
            continue
        unit, then = f" {symbol(now.unit)}".rstrip(), f"at check {row['earlier']}"
        if old is None or new is None:
            what = (
                "no straight line here and was"
                if new is None
                else "a straight line here and was not"
            )
            yield f"the meter is held to {what} {then}: its policy was changed in between"
            continue
        how = "loosened" if new > old else "tightened"
        yield (
            f"the limit of the straight line is {as_entered(new)}{unit} here and was "
            f"{as_entered(old)}{unit} {then}: its policy was {how} in between"
        )


def _of_pieces(store: StoreReader, check_id: int) -> list[str]:
    return [
        f"the limit of {row['piece']}{at_channel(row['channel'])} is {_said(row['now'])} "
        f"{symbol(row['unit'])} here and was {_said(row['before'])} {symbol(row['unit'])} at "
        f"check {row['earlier']}: its policy was "
        f"{'loosened' if float(row['now']) > float(row['before']) else 'tightened'} in between"
        for row in store.rows(_CHANGED, (check_id,))
    ]


def _said(text: str) -> str:
    return as_entered(Decimal(text))
