"""A computer's clock that stands before what it has told already, in words. Pure."""

from __future__ import annotations

from datetime import timedelta

from acquire.errors import Refused
from acquire.model import Instant, iso_utc
from acquire.pipeline.told_time import ToldTime


def clock_behind(now: Instant, told: ToldTime, jump_ns: int) -> str:
    """That the clock stands before the latest time that was told; empty where it does not.

    No check may begin under it: its dates would lie before those of what it closes. What comes all
    the same (readings of no run, a status) goes by the numbers of rows, certificates by the latest
    time that was told.
    """
    if behind := _behind(now, told.floor_ns, jump_ns):
        return (
            f"{behind}: all that is recorded now gets a wrong date, and no check begins. Next: set "
            "the clock right, then check the instruments again; if it is right, one that ran ahead "
            "made that entry: say so (coatbench clock --help). Until then certificates go by the "
            "later date"
        )
    if _behind(now, told.latest_ns, jump_ns):
        return (
            f"a clock that ran ahead made entries up to {iso_utc(told.latest_ns)}, as a person "
            "said: until then certificates go by that date"
        )
    return ""


def require_clock(instrument: str, now: Instant, told: ToldTime, jump_ns: int) -> None:
    """Raises `Refused` where an instrument would be checked under a clock that is behind."""
    if not (behind := _behind(now, told.floor_ns, jump_ns)):
        return
    raise Refused(
        f"{instrument} cannot be checked",
        reason="clock behind",
        got=behind,
        wanted="a clock that has gone on since",
        next_step=f"set the computer's clock right, then coatbench check {instrument}; if it is "
        "right, one that ran ahead made that entry: look at another clock and say what it shows, "
        'such as coatbench clock "2026-05-11 14:30" --reason "the radio clock; the computer was '
        'two days ahead until noon"',
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
