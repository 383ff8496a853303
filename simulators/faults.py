"""What can befall one line on its way to the host, each by name.

`clean`             nothing, so that a later line of the queue is the one that suffers
`garbage`           noise bytes before the line; `ended` closes them with a terminator of their own
`cut`               the first bytes of the line, then silence: the rest of it and of what is sent
                    with it never comes
`stalled`           the first bytes of the line, then a pause, then its rest
`torn`              as `cut`, and the plug is pulled a moment later
`lost`              the line never comes
`late`              the line comes later
`glued`             the line is held back and comes in one chunk with the next one
`split`             the line comes in single bytes with gaps
`corrupted`         one byte of the line is another
`repeated`          the line comes again
`wrong_terminator`  the line ends in other bytes
`flood`             very much noise before the line
`endless`           instead of the line, a line that does not end
`wrong_speed`       the host listens at another speed or in another format: what it takes the bits
                    of the line for (see `uart`)

Pure: a fault turns one line into pieces; it never sends and never waits.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import NamedTuple, Protocol

from simulators import uart
from simulators.arguments import Arguments

# What a receiver makes of disturbances of the line: framing errors give bytes of all zeros or with
# the high bits set. No digit, space, comma or terminator is among them: on a line without a
# checksum such a byte would make a good line with a wrong number in it, which nobody can know.
NOISE = bytes(range(0x09)) + bytes(range(0x80, 0x100))

MOST_BYTES = 1_000_000
MOST_S = 60.0


class Piece(NamedTuple):
    """Bytes that go out `delay_s` after the piece before; `hang_up` pulls the plug after them."""

    data: bytes
    delay_s: float = 0.0
    hang_up: bool = False


class Line(NamedTuple):
    """One line on its way: its body, its terminator, the bit that the line is apt to get wrong."""

    body: bytes
    end: bytes
    flip: int
    chance: random.Random

    @property
    def whole(self) -> bytes:
        return self.body + self.end

    def noise(self, count: int) -> bytes:
        return bytes(self.chance.choices(NOISE, k=count))


class Fault(Protocol):
    """One thing that befalls one line."""

    @property
    def silences(self) -> bool:
        """What is sent together with the line is lost as well."""
        ...

    @property
    def holds(self) -> bool:
        """The bytes wait for those of the next line."""
        ...

    def befall(self, line: Line) -> list[Piece]:
        """What comes out in place of the line."""
        ...


@dataclass(frozen=True)
class Turn:
    """A fault made of one function of the line."""

    pieces: Callable[[Line], Iterator[Piece]]
    silences: bool = False
    holds: bool = False

    def befall(self, line: Line) -> list[Piece]:
        return list(self.pieces(line))


def _clean(_: Arguments) -> Fault:
    return Turn(lambda line: iter([Piece(line.whole)]))


def _garbage(args: Arguments) -> Fault:
    exact = args.data("hex") if args.has("hex") else None
    count = args.whole("bytes", 1, MOST_BYTES, 12)
    ended = args.flag("ended", False)

    def pieces(line: Line) -> Iterator[Piece]:
        before = exact if exact is not None else line.noise(count)
        yield Piece(before + (line.end if ended else b"") + line.whole)

    return Turn(pieces)


def _cut(args: Arguments) -> Fault:
    at = args.whole("at", 0, MOST_BYTES) if args.has("at") else None
    return Turn(lambda line: iter([Piece(_head(line, at))]), silences=True)


def _stalled(args: Arguments) -> Fault:
    at = args.whole("at", 0, MOST_BYTES) if args.has("at") else None
    gap_s = args.number("gap_s", 0, MOST_S, 0.5)

    def pieces(line: Line) -> Iterator[Piece]:
        head = _head(line, at)
        yield Piece(head)
        yield Piece(line.whole[len(head) :], gap_s)

    return Turn(pieces)


def _torn(args: Arguments) -> Fault:
    at = args.whole("at", 0, MOST_BYTES) if args.has("at") else None
    # A plug takes time to come out; without it the host could not have taken in the bytes before.
    gap_s = args.number("gap_s", 0, MOST_S, 0.05)

    def pieces(line: Line) -> Iterator[Piece]:
        yield Piece(_head(line, at))
        yield Piece(b"", gap_s, hang_up=True)

    return Turn(pieces, silences=True)


def _lost(_: Arguments) -> Fault:
    return Turn(lambda _: iter([]))


def _late(args: Arguments) -> Fault:
    delay_s = args.number("delay_s", 0, MOST_S, 1.0)
    return Turn(lambda line: iter([Piece(line.whole, delay_s)]))


def _glued(_: Arguments) -> Fault:
    return Turn(lambda line: iter([Piece(line.whole)]), holds=True)


def _split(args: Arguments) -> Fault:
    gap_s = args.number("gap_s", 0, MOST_S, 0.002)

    def pieces(line: Line) -> Iterator[Piece]:
        for place, byte in enumerate(line.whole):
            yield Piece(bytes([byte]), gap_s if place else 0.0)

    return Turn(pieces)


def _corrupted(args: Arguments) -> Fault:
    at = args.whole("at", 0, MOST_BYTES) if args.has("at") else None
    flip = args.whole("xor", 1, 255) if args.has("xor") else None

    def pieces(line: Line) -> Iterator[Piece]:
        body = bytearray(line.body)
        if body:
            place = len(body) // 2 if at is None else min(at, len(body) - 1)
            body[place] ^= line.flip if flip is None else flip
        yield Piece(bytes(body) + line.end)

    return Turn(pieces)


def _repeated(args: Arguments) -> Fault:
    times = args.whole("times", 1, 1000, 1)
    return Turn(lambda line: iter([Piece(line.whole)] * (times + 1)))


def _wrong_terminator(args: Arguments) -> Fault:
    end = args.data("hex") if args.has("hex") else b"\n"
    return Turn(lambda line: iter([Piece(line.body + end)]))


def _flood(args: Arguments) -> Fault:
    count = args.whole("bytes", 1, MOST_BYTES, 65536)
    ended = args.flag("ended", True)

    def pieces(line: Line) -> Iterator[Piece]:
        yield Piece(line.noise(count))
        yield Piece((line.end if ended else b"") + line.whole)

    return Turn(pieces)


def _endless(args: Arguments) -> Fault:
    count = args.whole("bytes", 1, MOST_BYTES, 100_000)
    gap_s = args.number("gap_s", 0, MOST_S, 0.01)

    def pieces(_: Line) -> Iterator[Piece]:
        # Digits, not noise: nothing but the missing end tells such a line from a good one.
        for sent in range(0, count, 64):
            yield Piece(b"7" * min(64, count - sent), gap_s if sent else 0.0)

    return Turn(pieces, silences=True)


def _wrong_speed(args: Arguments) -> Fault:
    baud = args.whole("baud", uart.LEAST_BAUD, uart.MOST_BAUD, 9600)
    form = args.text("format", uart.FORMAT, uart.FORMAT_WANTED, "8N1")
    otherwise = baud if args.has("heard_format") else min(2 * baud, uart.MOST_BAUD)
    heard_baud = args.whole("heard_baud", uart.LEAST_BAUD, uart.MOST_BAUD, otherwise)
    heard_form = args.text("heard_format", uart.FORMAT, uart.FORMAT_WANTED, form)
    errors = args.choice("errors", uart.ERRORS) if args.has("errors") else uart.KEPT
    sender, receiver = uart.Setting(baud, form), uart.Setting(heard_baud, heard_form)
    if sender == receiver:
        raise args.fault("heard_baud", "a speed or a format other than that of the line")

    def pieces(line: Line) -> Iterator[Piece]:
        if came := uart.heard(line.whole, sender, receiver, errors):
            yield Piece(came)

    return Turn(pieces)


def _head(line: Line, at: int | None) -> bytes:
    return line.whole[: len(line.whole) // 2 if at is None else at]


KINDS: dict[str, Callable[[Arguments], Fault]] = {
    "clean": _clean,
    "garbage": _garbage,
    "cut": _cut,
    "stalled": _stalled,
    "torn": _torn,
    "lost": _lost,
    "late": _late,
    "glued": _glued,
    "split": _split,
    "corrupted": _corrupted,
    "repeated": _repeated,
    "wrong_terminator": _wrong_terminator,
    "flood": _flood,
    "endless": _endless,
    "wrong_speed": _wrong_speed,
}


DRAWN = tuple(kind for kind in KINDS if kind != "clean")
"""What a line may be told to suffer by chance."""


def drawn(share: float, kinds: Iterable[str]) -> Callable[[random.Random], Fault | None]:
    """A source of faults: each line suffers one of `kinds` with a probability of `share`."""
    faults = [KINDS[kind](Arguments(kind, {})) for kind in kinds]

    def draw(chance: random.Random) -> Fault | None:
        return chance.choice(faults) if faults and chance.random() < share else None

    return draw


def read_faults(args: Arguments) -> list[Fault]:
    """The faults of an act: `kind`, what that kind takes, and for how many `lines` it holds."""
    kind = args.choice("kind", KINDS)
    lines = args.whole("lines", 1, 1000, 1)
    fault = KINDS[kind](args)
    args.finish()
    return [fault] * lines
