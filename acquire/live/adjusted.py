"""A meter as it was found before a re-adjustment and left after it, in lines. Reads the store."""

from __future__ import annotations

from acquire.live.words import clean
from acquire.report.record.adjusted import adjustment_before
from acquire.store.reader import StoreReader


def as_found_as_left(store: StoreReader, check_id: int) -> list[str]:
    """Two lines where a check is the first one after a re-adjustment; none otherwise."""
    seen = adjustment_before(store, check_id)
    if seen is None:
        return []
    # What was read since nobody knows of: it is not how the meter was found.
    before = (
        f"not checked as found; before: {clean(seen.as_found)} (check {seen.found_by}, and "
        "readings after it)"
        if seen.was_used
        else f"as found: {clean(seen.as_found)} (check {seen.found_by}, before the re-adjustment)"
    )
    return [
        before,
        f"as left:  {clean(seen.as_left)}",
    ]
