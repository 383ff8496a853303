"""`coatbench replay`: a tape through its driver and the gate, held against the day it was made."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from acquire.cli.faults import BROKEN_OFF, NOT_DONE
from acquire.cli.reach import bench_option, is_served, store_of
from acquire.cli.spoken import say
from acquire.cli.tape_source import load_tape, title_lines, told_damage

if TYPE_CHECKING:
    from acquire.clock import Clock
    from acquire.link.tape import Made, Tape
    from acquire.model import Instant
    from acquire.report.proof.regate import Regated
    from acquire.report.replay.comparing import Comparison, Difference
    from acquire.report.replay.replaying import Replayed

NOISE = "noise"
MOST_SHOWN = 5
_LEAD_S = 1.0
_PLURAL = {
    "reading": "readings",
    "notice": "notices",
    "spectrum": "spectra",
    "samples": "samples",
    "noise": "stretches of noise",
}


@click.command()
@click.argument("named", metavar="TAPE|N")
@click.option(
    "--speed",
    type=click.Choice(["recorded", "full"]),
    default="full",
    show_default=True,
    help="As fast as it was, with every reading as it comes; or as fast as can be.",
)
@bench_option
def replay(named: str, speed: str, bench: Path | None) -> int:
    """Play tape N of the store, or a tape file, through its driver with the profile of then.

    Readings, notices, noise, samples and spectra must be the same as the day it was made; if not,
    it is told where they first differ, and the exit status is 1. So it is where the last bytes of
    a tape have no row in the store, since the daemon was killed before it knew what they are. Of a
    tape of the store every reading that counts is asked of the gate again from the stored checks.
    Changes nothing.

    \b
    Example:  coatbench replay 3
              coatbench replay shore.tape --speed recorded
    Next:     coatbench tape show N --from S shows what passed there
    """
    from acquire.report.replay.replaying import Replayed, cast, played  # noqa: PLC0415 - slow

    tape, damage = load_tape(named, bench)
    say(title_lines(named, tape))
    role = cast(tape.whose)
    done = Replayed(tape)
    is_recorded = speed == "recorded"
    silent_s = silence_before(tape) if is_recorded else 0.0
    if silent_s:
        say([f"nothing came in its first {silent_s:.0f} s: they are passed over"])
    waits = recorded_speed(tape, silent_s=silent_s) if is_recorded else None
    heard = reading_printer(tape) if is_recorded else None
    try:
        played(tape, role, waits, heard, is_whole=damage is None, done=done)
    except KeyboardInterrupt:
        say([f"broken off after {done.comparing.readings} readings"], err=True)
        return BROKEN_OFF
    comparison = done.comparison()
    say(verdict_lines(done, comparison))
    is_stored = named.isascii() and named.isdecimal()
    goes_on = is_stored and bool(comparison.unstored) and _goes_on(int(named), bench)
    say(unstored_lines(done, comparison, goes_on=goes_on, is_file=not is_stored))
    lacks = not goes_on and any(one.what != NOISE for one in comparison.unstored)
    is_good = comparison.is_same and not done.failed_now and not lacks
    if is_stored:
        regated = _regated(int(named), bench)
        say(gate_lines(regated))
        is_good = is_good and not regated.unlike
    else:
        say(["a tape file carries no checks: the gate was not asked"])
    told = told_damage(damage)
    return told if is_good else NOT_DONE


def _regated(number: int, bench: Path | None) -> Regated:
    from acquire.report.proof.regate import regate  # noqa: PLC0415 - slow
    from acquire.store import StoreReader  # noqa: PLC0415 - slow

    with StoreReader(store_of(bench)) as reader:
        return regate(reader, number)


def _goes_on(number: int, bench: Path | None) -> bool:
    """Whether a daemon still has the connection open, so that rows may yet come."""
    from acquire.report.replay.taped import is_latest  # noqa: PLC0415 - slow
    from acquire.store import StoreReader  # noqa: PLC0415 - slow

    with StoreReader(store_of(bench)) as reader:
        if not is_latest(reader, number):
            return False
    return is_served(bench)


def silence_before(tape: Tape) -> float:
    """Seconds before anything passed, but for a last one; 0 where that was soon.

    Of a tape that was cut they may be hours.
    """
    first = next(iter(tape.passed), None)
    left_s = first.at.seconds_since(tape.opened) - _LEAD_S if first is not None else 0.0
    return left_s if left_s > _LEAD_S else 0.0


def recorded_speed(
    tape: Tape,
    clock: Clock | None = None,
    wait: Callable[[float], object] | None = None,
    silent_s: float = 0.0,
) -> Callable[[Instant], None]:
    """Waits until a moment of the tape has come, counted from now on without its first seconds."""
    from acquire.clock import SystemClock  # noqa: PLC0415 - slow

    if clock is None:
        clock = SystemClock()
    wait = wait or threading.Event().wait
    begun = clock.now()

    def reach(at: Instant) -> None:
        left_s = at.seconds_since(tape.opened) - silent_s - clock.now().seconds_since(begun)
        if left_s > 0:
            wait(left_s)

    return reach


def reading_printer(tape: Tape) -> Callable[[Made], None]:
    """Prints every reading as it comes."""
    from acquire.report.replay.made import words  # noqa: PLC0415 - slow

    def heard(made: Made) -> None:
        if made.what == "reading":
            after_s = (made.at_utc_ns - tape.opened.utc_ns) / 1e9
            say([f"{after_s:+12.3f} s  {words(made)}"])

    return heard


def verdict_lines(done: Replayed, comparison: Comparison) -> Iterator[str]:
    """How the facts of now compare with those of the day."""
    counts = comparison.counts
    if comparison.is_same and not done.failed_now:
        told = ", ".join(f"{c.same} {_named(kind, c.same)}" for kind, c in counts.items() if c.then)
        whole = "what was stored is " if comparison.unstored else ""
        yield f"{whole}the same as the day it was made: {told or 'nothing was made of it'}"
    else:
        if done.failed_now:
            yield f"DIFFERS: the driver fails now: {done.failed}"
        found = comparison.differences
        if found:
            yield f"DIFFERS in {comparison.places} places, first {_where(done.tape, found[0])}"
        for one in found[:MOST_SHOWN]:
            yield f"  {_where(done.tape, one)}"
            yield f"    then  {one.then or f'no {one.what}'}"
            yield f"    now   {one.now or f'no {one.what}'}"
        if comparison.places > MOST_SHOWN:
            yield f"  and {comparison.places - MOST_SHOWN} more"
        for kind, count in counts.items():
            yield (
                f"  {_named(kind, 2)}: {count.then} then, {count.now} now, {count.same} the same"
            )
    gaps = done.gaps
    if gaps:
        lost = sum(hole.end - hole.start for hole in gaps)
        places = "1 place" if len(gaps) == 1 else f"{len(gaps)} places"
        yield f"{lost} bytes went unrecorded in {places}: nothing can be said of these"
    if comparison.aside:
        where = "at these places, or " if gaps else ""
        what = "1 fact" if comparison.aside == 1 else f"{comparison.aside} facts"
        yield (
            f"{what} {where}where the tape begins or ends in the middle of something could not be "
            "compared"
        )
    if done.first_stray is not None:
        after_s = done.first_stray.at.seconds_since(done.tape.opened)
        yield (
            f"the driver would now send something else {done.strayed} times, first "
            f"{after_s:.3f} s after the opening, where {done.first_stray.data[:40]!r} was sent"
        )


def unstored_lines(
    done: Replayed, comparison: Comparison, *, goes_on: bool = False, is_file: bool = False
) -> Iterator[str]:
    """The last bytes of a tape of which the store has no row: where, what they are, and why."""
    found = comparison.unstored
    if not found or done.tail is None:
        return
    last = done.tail.end
    count = last - found[0].byte
    of = f"the last {count} bytes" if count != 1 else "the last byte"
    if goes_on:
        yield f"of {of} no row is stored yet: the daemon still has this connection open"
        return
    yield f"NOT STORED: of {of} of this tape there is no row, first {_where(done.tape, found[0])}"
    for one in found[:MOST_SHOWN]:
        yield f"  byte {one.byte}: {one.now}"
    if len(found) > MOST_SHOWN:
        yield f"  and {len(found) - MOST_SHOWN} more"
    why = "the daemon ended before it knew what they are (killed, a crash or a power cut)"
    if is_file:
        why += ", or had not yet known it when the tape was cut"
    yield f"  {why}; the bytes are kept"
    if any(one.what == "reading" for one in found):
        yield "  nobody was shown such a reading and it counts for nothing: press anew"


def _named(kind: str, count: int) -> str:
    return kind if count == 1 and kind != "samples" else _PLURAL[kind]


def _where(tape: Tape, difference: Difference) -> str:
    from acquire.model import iso_utc  # noqa: PLC0415 - slow

    after_s = (difference.at_utc_ns - tape.opened.utc_ns) / 1e9
    return (
        f"at byte {difference.byte}, {after_s:.3f} s after the opening "
        f"({iso_utc(difference.at_utc_ns)})"
    )


def gate_lines(regated: Regated) -> Iterator[str]:
    """What the gate says of the readings now."""
    asked = regated.counting + regated.refused
    counting = "reading that counts" if regated.counting == 1 else "readings that count"
    words = f"{regated.counting} {counting}"
    if regated.refused:
        words += f" and {regated.refused} that {'was' if regated.refused == 1 else 'were'} refused"
    if not asked:
        yield "the gate was not asked: no reading of this tape counts, none lacked a valid check"
    elif not regated.unlike:
        yield f"the gate, asked again of {words}: the same answers"
    else:
        yield f"the gate, asked again of {words}: {len(regated.unlike)} OTHER ANSWERS"
        for one in regated.unlike[:MOST_SHOWN]:
            yield f"  reading {one.reading_id}: then {one.then}; now {one.now}"
        if len(regated.unlike) > MOST_SHOWN:
            yield f"  and {len(regated.unlike) - MOST_SHOWN} more"
    if regated.loose:
        what = "1 reading was" if regated.loose == 1 else f"{regated.loose} readings were"
        yield f"{what} not accepted for another reason: coatbench readings --loose says why"
