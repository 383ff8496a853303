"""A moment as a person types it: an hour of today, or a day and an hour. Pure."""

from __future__ import annotations

import re
from datetime import datetime

from acquire.errors import Misuse
from acquire.model import from_utc_ns

_HOUR = re.compile(r"([01]?\d|2[0-3])[:.]([0-5]\d)")


def moment_ns(text: str, now_utc_ns: int) -> int:
    """Nanoseconds of UTC; hours are of this computer's time zone. Raises `Misuse`."""
    here = from_utc_ns(now_utc_ns).astimezone()
    found = _HOUR.fullmatch(text.strip())
    try:
        if found is not None:
            hour, minute = int(found[1]), int(found[2])
            at = here.replace(hour=hour, minute=minute, second=0, microsecond=0)
        else:
            at = datetime.fromisoformat(text.strip())
            at = at.astimezone() if at.tzinfo is None else at
        return int(at.timestamp()) * 1_000_000_000
    except (ValueError, OverflowError, OSError):
        raise Misuse(
            "that is no time",
            got=repr(text),
            wanted=f"an hour of today, such as 14:30, or a day with it: {here:%Y-%m-%d} 14:30",
            next_step="say it so, or leave --at out for now",
        ) from None
