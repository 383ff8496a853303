"""`coatbench tape`: the tapes of a store listed, shown and cut; also a tape kept in a file."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from acquire.cli.faults import DONE
from acquire.cli.listing import Cells, show_table
from acquire.cli.reach import bench_option, is_served, store_of
from acquire.cli.spoken import say
from acquire.cli.tape_source import load_tape, title_lines, told_damage
from acquire.errors import Misuse
from acquire.visible import visible

if TYPE_CHECKING:
    from acquire.link.tape import Made, Missing, Passed, Tape
    from acquire.report.replay.taped import Listed

TEXT_BYTES = 64
HEX_BYTES = 16
LONGEST_S = 1e9


def seconds(text: str) -> float:
    """A finite time of at least nothing, for `click`."""
    try:
        found = float(text.removesuffix("s"))
    except ValueError:
        found = math.nan
    if not 0 <= found <= LONGEST_S:
        raise click.BadParameter(f"{text!r} is no time in seconds after the opening, such as 12.5")
    return found


from_option = click.option(
    "--from", "from_s", type=seconds, metavar="S", help="Begin so many seconds after the opening."
)
to_option = click.option(
    "--to", "to_s", type=seconds, metavar="S", help="End so many seconds after the opening."
)


@click.group()
def tape() -> None:
    """The recorded bytes of every connection: list, show and cut them.

    \b
    Example:  coatbench tape list
    Next:     coatbench replay N
    """


@tape.command("list")
@bench_option
def list_(bench: Path | None) -> int:
    """List the tapes of the store, one a connection of an instrument.

    The numbers are what tape show, tape cut and coatbench replay take.

    \b
    Example:  coatbench tape list
    Next:     coatbench tape show N, coatbench replay N
    """
    from acquire.report.replay.taped import listed  # noqa: PLC0415 - slow
    from acquire.store import StoreReader  # noqa: PLC0415 - slow

    with StoreReader(store_of(bench)) as reader:
        found = listed(reader)
    if not found:
        say(["no instrument has been connected yet: the store holds no tape"])
        return DONE
    latest = {one.instrument: one.number for one in found}
    going_on = {one.number for one in found if one.ended is None} & set(latest.values())
    show_table(list_rows(found, going_on if going_on and is_served(bench) else ()))
    return DONE


def list_rows(found: list[Listed], going_on: Collection[int] = ()) -> list[Cells]:
    """Headings and a row a tape; `going_on`: numbers of those that a daemon still records."""
    from acquire.live.words import clean  # noqa: PLC0415 - slow
    from acquire.model import iso_utc  # noqa: PLC0415 - slow

    rows: list[Cells] = [
        (
            "number",
            "meter",
            "serial",
            "driver/profile",
            "opened as",
            "begun",
            "seconds",
            "received",
            "sent",
            "readings",
            "gaps",
            "ended",
        )
    ]
    for one in found:
        spoken = f"{one.driver}/{one.profile}" if one.driver else "unknown"
        rows.append(
            (
                str(one.number),
                clean(one.instrument),
                clean(one.serial or "unknown"),
                clean(spoken),
                clean(one.opened_as),
                iso_utc(one.opened_utc_ns)[:19] + "Z",
                f"{(one.until_utc_ns - one.opened_utc_ns) / 1e9:.1f}",
                str(one.received),
                str(one.sent),
                str(one.readings),
                str(one.gaps),
                clean(
                    one.ended
                    if one.ended is not None
                    else "still open"
                    if one.number in going_on
                    else "no end was recorded"
                ),
            )
        )
    return rows


@tape.command()
@click.argument("named", metavar="N|FILE")
@from_option
@to_option
@click.option("--hex", "as_hex", is_flag=True, help="Bytes as hexadecimal digits.")
@bench_option
def show(
    named: str, from_s: float | None, to_s: float | None, as_hex: bool, bench: Path | None
) -> int:
    """Show what passed on a tape: when, which way, the bytes, and what became of them.

    Times are seconds after the opening; places count the bytes of each direction from 0.

    \b
    Example:  coatbench tape show 3 --from 10 --to 20
              coatbench tape show shore.tape --hex
    Next:     coatbench replay N
    """
    if from_s is not None and to_s is not None and to_s < from_s:
        raise click.UsageError(f"--to {to_s:g} is before --from {from_s:g}")
    found, damage = load_tape(named, bench)
    say(title_lines(named, found))
    is_empty = True
    for line in show_lines(found, from_s or 0.0, to_s, as_hex=as_hex):
        click.echo(visible(line))
        is_empty = False
    if is_empty:
        say([f"nothing passed between these times; {_passed_words(found)}"])
    return told_damage(damage)


def _passed_words(tape: Tape) -> str:
    """When something passed on a tape."""
    if not tape.passed:
        return "nothing did on all of this tape"
    first, last = (tape.passed[at].at.seconds_since(tape.opened) for at in (0, -1))
    return f"bytes passed from {first:.3f} to {last:.3f} s after the opening"


def show_lines(tape: Tape, from_s: float, to_s: float | None, *, as_hex: bool) -> Iterator[str]:
    """A line or more for everything on a tape between two moments."""
    from acquire.link.tape import Made, Passed, entries  # noqa: PLC0415 - slow

    heard_at_s = 0.0
    until_s = math.inf if to_s is None else to_s
    ended_s = None if tape.ended is None else tape.ended.at.seconds_since(tape.opened)
    for entry in entries(tape):
        if isinstance(entry, Passed):
            heard_at_s = entry.at.seconds_since(tape.opened)
            if heard_at_s > until_s:
                # All that follows is later.
                break
        if not from_s <= heard_at_s <= until_s:
            continue
        if isinstance(entry, Passed):
            yield from _passed_lines(entry, heard_at_s, as_hex=as_hex)
        elif isinstance(entry, Made):
            yield _made_line(entry)
        else:
            yield _missing_line(entry, tape)
    if tape.ended is not None and ended_s is not None and from_s <= ended_s <= until_s:
        yield f"{_time(ended_s)}  ended     {tape.ended.message}"
    elif tape.ended is None and to_s is None:
        yield f"{'':14}  no end    of this connection was recorded"


def _time(seconds: float) -> str:
    return f"{seconds:+12.6f} s"


def _passed_lines(passed: Passed, at_s: float, *, as_hex: bool) -> Iterator[str]:
    step = HEX_BYTES if as_hex else TEXT_BYTES
    for place in range(0, max(1, len(passed.data)), step):
        part = passed.data[place : place + step]
        # The signs of Python: what is no printable ASCII stands as its escape.
        shown = part.hex(" ") if as_hex else repr(part)[1:]
        head = f"{_time(at_s)}  {passed.direction:<8}" if not place else " " * 24
        yield f"{head}  {passed.offset + place:>8}  {shown}"


def _made_line(made: Made) -> str:
    from acquire.report.replay.made import words  # noqa: PLC0415 - slow

    return f"{'':14}  {'became':<8}  {made.start:>8}  to {made.end}: {words(made)}"


def _missing_line(missing: Missing, tape: Tape) -> str:
    since_s = (missing.since_utc_ns - tape.opened.utc_ns) / 1e9
    until_s = (missing.until_utc_ns - tape.opened.utc_ns) / 1e9
    return (
        f"{_time(since_s)}  MISSING   {missing.lost_bytes} bytes went unrecorded until "
        f"{until_s:+.6f} s"
    )


@tape.command("cut")
@click.argument("named", metavar="N|FILE")
@click.option(
    "--out", required=True, type=click.Path(path_type=Path), metavar="FILE", help="The tape file."
)
@from_option
@to_option
@bench_option
def cut_(
    named: str, out: Path, from_s: float | None, to_s: float | None, bench: Path | None
) -> int:
    """Write a tape, or a stretch of one, to a file that can be played elsewhere.

    The file carries the bytes of both directions, the profile of then, and what was made of the
    bytes that day, all with check sums. It is played at once, to see whether the stretch gives the
    same facts by itself.

    \b
    Example:  coatbench tape cut 3 --out shore.tape
              coatbench tape cut 3 --out press.tape --from 10 --to 20
    Next:     coatbench replay shore.tape
    """
    from acquire.cli.replay import verdict_lines  # noqa: PLC0415 - slow
    from acquire.errors import CoatbenchError  # noqa: PLC0415 - slow
    from acquire.link.tape_cut import cut, without_last  # noqa: PLC0415 - slow
    from acquire.link.tape_file import write_tape  # noqa: PLC0415 - slow
    from acquire.report.files.outplace import require_place  # noqa: PLC0415 - slow
    from acquire.report.replay.replaying import cast, played  # noqa: PLC0415 - slow

    if from_s is not None and to_s is not None and to_s <= from_s:
        raise click.UsageError(f"--to {to_s:g} is not after --from {from_s:g}")
    found, damage = load_tape(named, bench)
    if damage is not None:
        found = without_last(found)
    stretch = cut(found, from_s, to_s)
    if not stretch.passed:
        last = found.passed[-1].at.seconds_since(found.opened) if found.passed else 0.0
        raise Misuse(
            "there is nothing to cut",
            got=f"a stretch of tape {named} on which nothing passed",
            wanted=f"times between 0 and {last:.3f} s after the opening",
            next_step=f"coatbench tape show {named} shows when something passed",
        )
    _refuse_itself(named, out)
    require_place(out, "tape")
    if out.exists():
        raise Misuse(
            f"{out} is there already",
            got="a file of that name",
            wanted="a name that is free: what was recorded is not overwritten",
            next_step="name another file with --out, or move the old one away",
        )
    try:
        write_tape(out, stretch)
    except OSError as e:
        # It is written under another name, which is nobody's who named the file.
        place = out if out.parent.is_dir() else out.parent
        raise OSError(e.errno, e.strerror, str(place)) from e
    received, sent = stretch.bytes_of("received"), stretch.bytes_of("sent")
    say([f"{out}: {received} bytes received, {sent} sent, {len(stretch.made)} facts made of them"])
    try:
        done = played(stretch, cast(stretch.whose))
    except CoatbenchError as error:
        say([f"whether it plays as it did that day is not known here: {error}"])
    else:
        say(verdict_lines(done, done.comparison()))
        if from_s is not None and not done.comparison().is_same:
            say(["next: leave out --from; the driver needs what came before"])
    return told_damage(damage)


def _refuse_itself(named: str, out: Path) -> None:
    try:
        is_same = Path(named).samefile(out)
    except OSError:
        return
    if is_same:
        raise Misuse(
            "a tape is not cut into itself",
            got=str(out),
            wanted="another file",
            next_step="name another file with --out",
        )
