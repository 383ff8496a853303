"""`coatbench learn`: a profile for a meter that nobody documented."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterable
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING

import click

from acquire.cli.spoken import say
from acquire.errors import CoatbenchError, LinkLost, LinkUnavailable, Misuse

if TYPE_CHECKING:
    from acquire.cli.lesson import Lesson
    from acquire.driverapi import LinkNeeds
    from acquire.learn import About, Finding, Line
    from acquire.link.base import Link, Opener
    from acquire.model import LinkAddress

KINDS = ("gloss", "force", "transmittance")
UNITS = (
    "N (newton), mN (millinewton), kN (kilonewton), gf (gram_force), kgf (kilogram_force), "
    "lbf (pound_force), ozf (ounce_force); GU (gloss_unit); % (percent), one"
)
FORMATS = ("8N1", "7E1", "7O1", "8E1", "8O1", "8N2", "7N2")


class Typist:
    """The person at this terminal."""

    def ask(self, question: str) -> str:
        answer: str = click.prompt(question, default="", show_default=False, prompt_suffix=" ")
        return answer

    def tell(self, lines: Iterable[str]) -> None:
        say(lines)


@click.command()
@click.argument("port", required=False)
@click.option(
    "--tape",
    type=click.Path(path_type=Path),
    help="Learn from a tape, alone or with more presses at PORT.",
)
@click.option(
    "--shown",
    multiple=True,
    metavar="NUMBER",
    help="What a press showed, once a press; - leaves one out.",
)
@click.option("--out", type=click.Path(path_type=Path), help="The profile to write.")
@click.option("--kind", type=click.Choice(KINDS), help="What the meter measures.")
@click.option(
    "--unit",
    help=f"The unit of its numbers, where the bytes do not say it: {UNITS}. With a word of the "
    "bytes that may be a unit: --unit PKF=newton.",
)
@click.option("--geometry", type=click.Choice(("20", "60", "85")), help="Of a gloss meter.")
@click.option(
    "--band",
    "named_bands",
    multiple=True,
    metavar="BAND",
    help='Of a transmission meter, in nm: "315-400" or "940". Of one whose lines say the band of '
    "each, once a word: --band UVA=315-400.",
)
@click.option("--least", metavar="NUMBER", help="The least number that the display can show.")
@click.option("--most", metavar="NUMBER", help="The largest number that the display can show.")
@click.option(
    "--moves",
    multiple=True,
    metavar="TEXT",
    help="A number in its lines that never changed and may, such as a temperature.",
)
@click.option(
    "--one-setting",
    is_flag=True,
    help="All presses were of one unit, and of one geometry or band.",
)
@click.option(
    "--counts-to",
    type=click.IntRange(1, 10**9),
    metavar="NUMBER",
    help="How far the meter counts its presses, by its display or manual, where its frames count.",
)
@click.option("--baud", type=click.IntRange(50, 4_000_000), help="The speed of a serial line.")
@click.option("--format", "form", type=click.Choice(FORMATS), help="Its format.")
@click.option("--wait", "wait_s", type=click.FloatRange(1, 3600), default=60.0, metavar="S",
              help="How long to wait for a press (60).")  # fmt: skip
def learn(
    port: str | None, tape: Path | None, shown: tuple[str, ...], out: Path | None, kind: str | None,
    unit: str | None, geometry: str | None, named_bands: tuple[str, ...], least: str | None,
    most: str | None, moves: tuple[str, ...], one_setting: bool,
    counts_to: int | None, baud: int | None, form: str | None, wait_s: float,
) -> int:  # fmt: skip
    """Learn how a meter talks that nobody documented, and write a profile for it.

    Press its button three times on things that read differently, and type what it shows each time.
    All ways to read its bytes are kept; a profile is written only if the number is right by all
    that are left, and it is proved by playing the bytes through it. Where it is not sure it says
    which press would tell, and writes nothing.

    PORT is a serial port or an address such as socket://192.168.0.20:4001. What was pressed there
    is kept in a tape beside the profile: more presses can be added to it later.

    \b
    Example:  coatbench learn /dev/ttyUSB0 --out profiles/mine.toml
              coatbench learn --tape press.tape --kind gloss --geometry 60
                  --shown 91.4 --shown 45.2 --shown 12.0 --out profiles/mine.toml
    Next:     name driver and profile in bench.toml, then coatbench check INSTRUMENT
    """
    # Slow to import, all of it.
    from acquire.cli.hearing import line_of  # noqa: PLC0415
    from acquire.cli.learned import told  # noqa: PLC0415
    from acquire.cli.lesson import Lesson  # noqa: PLC0415
    from acquire.cli.questions import number  # noqa: PLC0415
    from acquire.cli.saidofmeter import Given  # noqa: PLC0415
    from acquire.driverapi.registry import Registry  # noqa: PLC0415
    from acquire.model import Quantity  # noqa: PLC0415

    if port is None and tape is None:
        raise click.UsageError("name a PORT, or a --tape, or both: first its presses, then more")
    if out is not None and out.exists():
        raise Misuse(
            f"{out} is there already",
            got="a file of that name",
            wanted="a name that is free: a profile that works is not overwritten",
            next_step="name another file, or move the old one away",
        )
    band, bands = _bands(named_bands)
    word, equals, named = (unit or "").rpartition("=")
    unit = _check_names(kind, named if equals else unit, geometry, named_bands)
    lowest, highest = (None if text is None else number(text) for text in (least, most))
    if lowest is not None and highest is not None and lowest >= highest:
        raise Misuse(
            "the least number of the display is not below its largest",
            got=f"--least {least} and --most {most}",
            wanted="what its display can show, from the least to the largest",
            next_step="look whether they were exchanged",
        )
    is_asking = not shown and sys.stdin is not None and sys.stdin.isatty()
    line = line_of(baud, form)
    if tape is not None and line is None:
        line = _line_of_tape(tape)
    given = Given(
        kind=None if kind is None else Quantity(kind),
        unit=unit,
        channel=geometry or band,
        least=lowest,
        most=highest,
        line=line,
        moves=frozenset(moves),
        word=word.strip(),
        is_one_setting=one_setting,
        bands=bands,
        counts_to=counts_to,
    )
    lesson = Lesson(given, Typist() if is_asking else None, Registry(), say)
    values = [None if text == "-" else number(text) for text in shown]
    where = "" if port is None else port
    socket = Socket(where)
    is_line_known = port is not None or line is not None
    try:
        found, about = _taken(lesson, socket, tape, values, wait_s)
        adapter = socket.adapter
        done = told(found, about, out, where, is_line_known=is_line_known, adapter=adapter)
    except BaseException as e:  # whatever ends a lesson, its presses are kept
        if kept := [] if port is None else _kept(lesson, out, port):
            say(kept if isinstance(e, CoatbenchError) else ["", *kept])
            if isinstance(e, LinkLost):
                e.next_step += f"; or from {len(lesson.taken)} kept presses, as said above"
        raise
    if port is not None:
        say(_kept(lesson, out, port))
    return done


def _kept(lesson: Lesson, out: Path | None, port: str) -> list[str]:
    """The presses at a port in a file, and what that is good for."""
    from acquire.cli.kepttape import again_words, keep  # noqa: PLC0415 - slow
    from acquire.clock import SystemClock  # noqa: PLC0415

    taken = lesson.taken
    try:
        path = keep(taken, out, port, SystemClock(), lesson.line if lesson.is_line_known else None)
    except OSError as e:
        return [f"the presses could not be kept in a tape: {e.strerror or e}"]
    return [] if path is None else again_words(path, taken, lesson.line, port)


def _line_of_tape(tape: Path) -> Line | None:
    """The line settings at which a tape was heard; None where it does not say."""
    from acquire.cli.hearing import line_of  # noqa: PLC0415
    from acquire.driverapi import LinkNeeds  # noqa: PLC0415
    from acquire.driverapi.registry import Registry  # noqa: PLC0415
    from acquire.learn import Line  # noqa: PLC0415
    from acquire.link.tape_file import read_tape  # noqa: PLC0415
    from acquire.schema import parse_toml  # noqa: PLC0415

    read = read_tape(tape)
    whose = read.whose
    if whose is None:
        said = re.fullmatch("([0-9]{2,7}) ([78][NEO][12])", read.line)
        return None if said is None else line_of(int(said[1]), said[2])
    try:
        table = parse_toml(whose.profile_text, whose.profile)
        needs = Registry().family(whose.driver).needs(table, whose.profile)
    except CoatbenchError:
        return None  # a driver that is not here, or not as it was then
    if not isinstance(needs, LinkNeeds) or needs.stop_bits != int(needs.stop_bits):
        return None
    return Line(needs.port_baud_rate, needs.data_bits, needs.parity, int(needs.stop_bits))


def _taken(
    lesson: Lesson, socket: Socket, tape: Path | None, shown: list[Decimal | None], wait_s: float
) -> tuple[Finding, About]:
    from acquire.cli.lessonwords import nobody_there  # noqa: PLC0415

    if tape is not None:
        from acquire.cli.usbtape import refuse_usb  # noqa: PLC0415
        from acquire.learn import Chunk  # noqa: PLC0415
        from acquire.link.tape_file import read_tape  # noqa: PLC0415

        read = read_tape(tape)
        refuse_usb(read, tape)
        passed = read.passed
        chunks = [Chunk(p.at.mono_ns, p.data) for p in passed if p.direction == "received"]
        moments = {p.at.mono_ns: p.at.utc().astimezone() for p in passed}
        if not socket.port:
            return lesson.of_tape(chunks, shown, moments)
    if not shown and not lesson.is_asking:
        socket.look_for()
        raise nobody_there()
    from acquire.clock import SystemClock  # noqa: PLC0415

    if tape is not None:
        return lesson.of_tape_and_port(chunks, moments, socket, SystemClock(), shown, wait_s)
    return lesson.of_port(socket, SystemClock(), shown, wait_s)


class Socket:
    """A port, found again by the serial number of its adapter once that is known.

    Who is plugged in anew may get another name, and somebody else the one of before.
    """

    def __init__(self, port: str, opener: Callable[[LinkAddress, LinkNeeds], Opener] | None = None):
        self.port = port
        self._opener = opener
        self.adapter = ""

    def __call__(self, line: Line) -> Link:
        from acquire.model import LinkAddress  # noqa: PLC0415

        address = LinkAddress(url=self.port) if "://" in self.port else None
        if address is None and self.adapter:
            address = LinkAddress(identity={"serial_number": self.adapter})
        link = _opened(address or LinkAddress(port=self.port), line, self._opener)
        self.adapter = self.adapter or link.adapter
        return link

    def look_for(self) -> None:
        """Raises `LinkUnavailable` where no such port is there."""
        from acquire.learn import Line  # noqa: PLC0415

        if "://" not in self.port and not Path(self.port).exists():
            self(Line()).close()


def _opened(
    address: LinkAddress, line: Line, opener: Callable[[LinkAddress, LinkNeeds], Opener] | None
) -> Link:
    from acquire.driverapi import LinkNeeds  # noqa: PLC0415
    from acquire.link import opener_for  # noqa: PLC0415

    needs = LinkNeeds(line.baud_rate, line.data_bits, line.parity, line.stop_bits)
    try:
        return (opener or opener_for)(address, needs).open()
    except LinkUnavailable as e:
        # What is to be mended stands on the command line here, and in no bench file.
        step = e.next_step.replace("another port in bench.toml", "another PORT")
        step = step.replace(" in bench.toml", " that you gave as PORT")
        raise LinkUnavailable(e.what, got=e.got, wanted=e.wanted, next_step=step) from e


def _bands(named: tuple[str, ...]) -> tuple[str | None, tuple[tuple[str, str], ...]]:
    """The band of all numbers, and those of words of the bytes. Raises `Misuse` for several."""
    alone = [text for text in named if "=" not in text]
    if len(alone) > 1:
        raise Misuse(
            "several bands are named, and no words that say which it is at a press",
            got=" ".join(f"--band {text}" for text in alone),
            wanted="one band, or each with the word of the bytes that means it",
            next_step="name each with its word: --band UVA=315-400 --band VIS=380-780",
        )
    words = [text.rpartition("=") for text in named if "=" in text]
    told = tuple((word.strip(), band.strip()) for word, _, band in words)
    return (alone[0] if alone else None), told


def _check_names(
    kind: str | None, unit: str | None, geometry: str | None, bands: tuple[str, ...]
) -> str | None:
    """The unit by its own name. Raises `Misuse` for what does not go together."""
    from acquire.cli.questions import unit_named  # noqa: PLC0415
    from acquire.model import MEASURED, Quantity  # noqa: PLC0415
    from acquire.schema.band import band as banded  # noqa: PLC0415

    for band in bands:
        try:
            banded(band.rpartition("=")[2])
        except ValueError as fault:
            raise Misuse(
                "that is no band",
                got=f"--band {band}",
                wanted=str(fault),
                next_step="write the limits as the meter's manual gives them",
            ) from None
    fits = {"geometry": geometry, "band": next(iter(bands), None)}
    wrong = {"gloss": "band", "transmittance": "geometry"}.get(kind or "")
    for name, value in fits.items():
        if value is not None and (name == wrong or kind == "force"):
            raise Misuse(
                f"a meter of {kind} has no {name}",
                got=f"--{name} {value}",
                wanted=f"no --{name} with --kind {kind}",
                next_step="leave it out, or name another --kind",
            )
    kinds = MEASURED if kind is None else (Quantity(kind),)
    named = None if unit is None else unit_named(unit, kinds)
    if unit is not None and named is None:
        from acquire.units import units_of  # noqa: PLC0415

        raise Misuse(
            f"{unit} is no unit of {kind or 'a meter'}",
            got=f"--unit {unit}",
            wanted=", ".join(name for one in kinds for name in units_of(one)),
            next_step="name one of these, or its sign",
        )
    return named
