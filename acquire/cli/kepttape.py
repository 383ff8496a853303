"""The presses of a lesson, kept in a tape file, so that nobody has pressed in vain. Main thread."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from acquire.learn import Chunk, Line
from acquire.link.tape import RECEIVED, Passed, Tape
from acquire.link.tape_file import write_tape
from acquire.model import Instant

if TYPE_CHECKING:
    from acquire.clock import Clock

_APART_NS = 10_000_000_000


class Taken(NamedTuple):
    """A press of a lesson: its bytes as they came, what the display showed, and when if known."""

    chunks: tuple[Chunk, ...]
    shown: Decimal
    heard: datetime | None = None


def keep(taken: Sequence[Taken], out: Path | None, where: str, clock: Clock) -> Path | None:
    """The file that has these presses now: beside `out`, or here. None where there are none.

    One that is there stays. Raises `OSError`.
    """
    if not taken:
        return None
    base = Path("lesson.tape") if out is None else out.with_suffix(".tape")
    base.parent.mkdir(parents=True, exist_ok=True)
    path, number = base, 2
    while path.exists():
        path, number = base.with_name(f"{base.stem}-{number}.tape"), number + 1
    write_tape(path, tape_of(taken, where, clock.now()))
    return path


def tape_of(taken: Sequence[Taken], where: str, now: Instant) -> Tape:
    """The tape of presses that ended by now.

    Those of an older tape come first though the clock that stamped them may have begun anew since:
    then what follows is put behind them.
    """
    passed: list[Passed] = []
    offset = until_ns = shift_ns = 0
    for press in taken:
        begun_ns = press.chunks[0].at_ns
        if begun_ns + shift_ns < until_ns:
            shift_ns = until_ns + _APART_NS - begun_ns
        utc_ns = now.utc_ns - now.mono_ns + begun_ns
        if press.heard is not None:
            utc_ns = round(press.heard.timestamp()) * 10**9
        for chunk in press.chunks:
            at = Instant(utc_ns + chunk.at_ns - begun_ns, chunk.at_ns + shift_ns)
            passed.append(Passed(RECEIVED, offset, at, chunk.data))
            offset += len(chunk.data)
        until_ns = passed[-1].at.mono_ns
    return Tape(passed[0].at, where, tuple(passed))


def again_words(path: Path, taken: Sequence[Taken], line: Line, where: str) -> list[str]:
    """How to learn from the presses that were kept, and from more."""
    count = f"{len(taken)} presses are" if len(taken) > 1 else "1 press is"
    form = f"{line.data_bits}{line.parity.value[0].upper()}{line.stop_bits}"
    shown = " ".join(f"--shown {press.shown}" for press in taken)
    return [
        f"{count} kept in {path}. To learn from them and from more presses:",
        f"  coatbench learn {where} --tape {path} --baud {line.baud_rate} --format {form} {shown}",
        "  with a --shown for each press to come, or without --shown to be asked for all; without "
        "the port, from the tape alone",
    ]
