"""A computer's clock that stands before what it has told already, in words. Pure."""

from __future__ import annotations

from datetime import timedelta
from math import ceil

from acquire.errors import Refused
from acquire.model import Instant, iso_utc


def clock_behind(now: Instant, floor_ns: int, jump_ns: int) -> str:
    """That the clock stands before the latest time that was told; empty where it does not.

    No check may begin under it: its dates would lie before those of what it closes. What comes all
    the same (readings of no run, a status) goes by the numbers of rows, certificates by the latest
    time that was told.
    """
    if not (behind := _behind(now, floor_ns, jump_ns)):
        return ""
    return (
        f"{behind}: all that is recorded now gets a wrong date, and no check begins. Next: set the "
        "clock right, then check the instruments again; until then certificates go by the later "
        "date"
    )


def require_clock(instrument: str, now: Instant, floor_ns: int, jump_ns: int) -> None:
    """Raises `Refused` where an instrument would be checked under a clock that is behind."""
    if not (behind := _behind(now, floor_ns, jump_ns)):
        return
    wait = timedelta(seconds=ceil((floor_ns - now.utc_ns) / 1e9))
    raise Refused(
        f"{instrument} cannot be checked",
        reason="clock behind",
        got=behind,
        wanted="a clock that has gone on since",
        next_step=f"set the computer's clock right, then coatbench check {instrument}; if it is "
        f"right, one that ran ahead made that entry: wait {wait}, or name a new store in "
        "bench.toml",
    )


def _behind(now: Instant, floor_ns: int, jump_ns: int) -> str:
    behind_ns = floor_ns - now.utc_ns
    if behind_ns <= jump_ns:
        return ""
    behind = timedelta(seconds=round(behind_ns / 1e9))
    return (
        f"the computer's clock says {iso_utc(now.utc_ns)}, {behind} (h:mm:ss) before the last "
        f"entry of the store ({iso_utc(floor_ns)})"
    )
