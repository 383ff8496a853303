"""A tape that a person names, by its number in the store or by a file; whose it is, its damage."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from acquire.cli.faults import DONE, NOT_DONE
from acquire.cli.reach import store_of
from acquire.cli.spoken import say

if TYPE_CHECKING:
    from acquire.link.tape import Tape
    from acquire.link.tape_file import Damage


def load_tape(named: str, bench: Path | None) -> tuple[Tape, Damage | None]:
    """The tape of a number in the store, or of a file, up to its first damage."""
    if named.isascii() and named.isdecimal():
        from acquire.report.replay.taped import taped  # noqa: PLC0415 - slow
        from acquire.store import StoreReader  # noqa: PLC0415 - slow

        with StoreReader(store_of(bench)) as reader:
            return taped(reader, int(named[:20])), None
    from acquire.link.tape_file import read_up_to_damage  # noqa: PLC0415 - slow

    return read_up_to_damage(Path(named))


def title_lines(named: str, tape: Tape) -> list[str]:
    """Whose tape it is."""
    from acquire.model import iso_utc  # noqa: PLC0415 - slow

    whose = tape.whose
    words = (
        f"{whose.instrument} ({whose.kind}), serial {whose.serial}, driver {whose.driver}, "
        f"profile {whose.profile} as it was then"
        if whose
        else "nobody knows of which instrument"
    )
    at = f" at {tape.line}" if tape.line else ""
    return [
        f"tape {named}: {words}",
        f"opened as {tape.where}{at} on {iso_utc(tape.opened.utc_ns)}",
    ]


def told_damage(damage: Damage | None) -> int:
    """Say where a tape file is damaged; the exit status."""
    if damage is None:
        return DONE
    sys.stdout.flush()
    say([f"coatbench: the tape is {damage}", "  next    copy or cut it anew"], err=True)
    return NOT_DONE
