"""The warnings of a meter in lines, for commands that have something else to say first.

Light to import: what computes is imported once there are checks enough for a line through them.
"""

from __future__ import annotations

from acquire.errors import CoatbenchError
from acquire.store.reader import StoreReader

LEAST_CHECKS = 3
"""As many as the points that `acquire.history.trend` wants."""

_CHECKED = """SELECT count(*) FROM (SELECT 1 FROM check_begin AS c
JOIN check_judgement AS j ON j.check_id = c.id WHERE c.instrument = ? LIMIT ?)"""


def told_of(reader: StoreReader, instrument: str, now_ns: int) -> list[str]:
    """The lines on an instrument; of a store that cannot be looked through, that this is so.

    A verdict or a status is worth more than its warnings, so that neither fails by them.
    """
    try:
        if reader.one(_CHECKED, (instrument, LEAST_CHECKS)) < LEAST_CHECKS:
            return []
        from acquire.drift.early import early_warnings, lines  # noqa: PLC0415 - slow

        return lines(early_warnings(reader, instrument, now_ns))
    except CoatbenchError as error:
        return [f"warning: the drift of {instrument} is not known: {error.what}"]
