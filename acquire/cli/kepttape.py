"""The presses of a lesson, kept in a tape file, so that nobody has pressed in vain. Main thread."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from acquire.learn import Chunk, Line, Press
from acquire.link.tape import RECEIVED, Passed, Tape
from acquire.link.tape_file import write_tape
from acquire.model import Instant

if TYPE_CHECKING:
    from acquire.clock import Clock

_APART_NS = 10_000_000_000


class Taken(NamedTuple):
    """A press of a lesson: its bytes as they came, what the display showed, and when if known.

    `shown` None: it was left out, or nobody has said it.
    """

    chunks: tuple[Chunk, ...]
    shown: Decimal | None
    heard: datetime | None = None


class Record:
    """Every press of a lesson as it came, whatever becomes of it, and which are learned from."""

    def __init__(self) -> None:
        self._all: list[tuple[tuple[Chunk, ...], int | None]] = []

    def heard(self, chunks: tuple[Chunk, ...]) -> None:
        """A press came."""
        self._all.append((chunks, None))

    def said(self, place: int) -> None:
        """The press that came last has this place among those that are learned from."""
        self._all[-1] = (self._all[-1][0], place)

    def taken(self, presses: Sequence[Press]) -> list[Taken]:
        """All of them, with what is known of those that are learned from."""
        known = [None if place is None else presses[place] for _, place in self._all]
        return [
            Taken(chunks, None) if press is None else Taken(chunks, press.shown, press.heard)
            for (chunks, _), press in zip(self._all, known, strict=True)
        ]


def keep(
    taken: Sequence[Taken], out: Path | None, where: str, clock: Clock, line: Line | None = None
) -> Path | None:
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
    tape = tape_of(taken, where, clock.now())
    write_tape(path, tape._replace(line="" if line is None else str(line)))
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
    silent = sum(press.shown is None for press in taken)
    of_which = f", of which {silent} without a number" if silent else ""
    form = f"{line.data_bits}{line.parity.value[0].upper()}{line.stop_bits}"
    numbers = ["-" if press.shown is None else str(press.shown) for press in taken]
    shown = " ".join(f"--shown {number}" for number in numbers)
    if silent == len(taken):
        return [
            f"{count} kept in {path}, without a number. Once you know what its display showed:",
            f"  coatbench learn --tape {path} --baud {line.baud_rate} --format {form}",
            "  there you are asked for each; or with a --shown for each, - for one to leave out",
        ]
    return [
        f"{count} kept in {path}{of_which}. To learn from them and from more presses:",
        f"  coatbench learn {where} --tape {path} --baud {line.baud_rate} --format {form} {shown}",
        "  with a --shown for each press to come, or without --shown to be asked for all; without "
        "the port, from the tape alone",
    ]
