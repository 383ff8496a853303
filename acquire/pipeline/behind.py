"""A computer's clock that stands before what it has told already, in words. Pure."""

from __future__ import annotations

from datetime import timedelta

from acquire.model import Instant, iso_utc


def clock_behind(now: Instant, floor_ns: int, jump_ns: int) -> str:
    """That the clock stands before the latest time that was told; empty where it does not.

    A check may begin all the same: what comes after what goes by the numbers of rows, and
    certificates go by the latest time that was told. But its dates are wrong.
    """
    behind_ns = floor_ns - now.utc_ns
    if behind_ns <= jump_ns:
        return ""
    behind = timedelta(seconds=round(behind_ns / 1e9))
    return (
        f"the computer's clock says {iso_utc(now.utc_ns)}, {behind} (h:mm:ss) before the last "
        f"entry of the store ({iso_utc(floor_ns)}): all that is recorded now gets a wrong date. "
        "Next: set the clock right, then check the instruments again; until then certificates go "
        "by the later date"
    )
