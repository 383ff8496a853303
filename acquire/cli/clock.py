"""`coatbench clock`."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from acquire.cli.faults import DONE
from acquire.cli.reach import bench_option, reach
from acquire.cli.spoken import say
from acquire.errors import Misuse


@click.command
@click.argument("shown")
@click.option("--reason", required=True, help="Whose time it is, and why a later one is kept.")
@bench_option
def clock(shown: str, reason: str, bench: Path | None) -> int:
    """Say that the computer's clock is right, though the store has a later entry.

    Only where a clock that once ran ahead holds checks off. SHOWN is what another clock shows now:
    date and time of this place, or with an offset such as +00:00. It is kept with your reason, and
    told among the troubles. Certificates go by the later time all the same, until it is over.

    \b
    Example:  coatbench clock "2026-05-11 14:30" --reason "radio clock; the computer ran ahead"
    Next:     coatbench check INSTRUMENT
    """
    with reach(bench) as client:
        reply = client.call("trust_clock", shown_utc_ns=_utc_ns(shown), reason=reason)
    say([f"kept: {reply['clock']}", "next: check the instruments (coatbench status)"])
    return DONE


def _utc_ns(text: str) -> int:
    """With its day: an hour of today would be one of the clock that is in question."""
    try:
        return int(datetime.fromisoformat(text.strip()).astimezone().timestamp()) * 1_000_000_000
    except (ValueError, OverflowError, OSError):
        raise Misuse(
            "the other clock is not read",
            got=repr(text),
            wanted="date and time, such as 2026-05-11 14:30",
            next_step='coatbench clock "2026-05-11 14:30" --reason "radio clock; the computer ran '
            'ahead"',
        ) from None
