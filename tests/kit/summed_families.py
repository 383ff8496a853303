"""Drivers of strangers that believe a checksum, and do not bear what may stand behind one.

Each checks a line as a careful driver does, and then takes its bytes for text of seven bits.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import Decimal, InvalidOperation

from acquire.driverapi import Driver, Due, LinkNeeds
from acquire.driverapi.capture import Capture, Expected, Step
from acquire.model import Fact, Instant, Noise, Quantity, Reading
from acquire.wire.checksum import CHECKSUMS, xor8

END = b"\r\n"
LONGEST = 80

Seal = Callable[[bytes], bytes]


class Summed:
    """A line is words, a star, and two or more signs that are right or make noise of it."""

    def __init__(self, seal: Seal, encoding: str) -> None:
        self._seal = seal
        self._encoding = encoding
        self._rest = b""
        self._place = 0

    def opening(self, at: Instant) -> bytes:
        return b""

    def feed(self, data: bytes, at: Instant) -> list[Fact]:
        self._rest += data
        facts: list[Fact] = []
        while END in self._rest or len(self._rest) > LONGEST:
            ends = self._rest.find(END) + len(END)
            size = ends if len(END) <= ends <= LONGEST else LONGEST
            raw, self._rest = self._rest[:size], self._rest[size:]
            facts.append(self._fact(raw, at))
        return facts

    def _fact(self, raw: bytes, at: Instant) -> Fact:
        start, self._place = self._place, self._place + len(raw)
        body, star, told = raw.removesuffix(END).rpartition(b"*")
        if star and raw.endswith(END) and told == self._seal(body):
            text = body.decode(self._encoding)
            words = text.split()
            if len(words) == 3 and words[::2] == ["PULL", "N"]:
                try:
                    value = Decimal(words[1])
                except InvalidOperation:
                    value = Decimal("nan")
                if value.is_finite():
                    return Reading(
                        Quantity.FORCE, "", value, "newton", words[1], at, raw, start, self._place
                    )
        return Noise(at, raw, start, self._place, "no line of it")

    def due(self, now: Instant) -> Due:
        return Due(b"", None)

    def take(self, at: Instant) -> bytes:
        return b""

    def lost(self, at: Instant) -> list[Fact]:
        rest, self._rest = self._rest, b""
        return [self._fact(rest, at)] if rest else []


class SummedFamily:
    """Lines with one sort of checksum; `encoding`: how it reads what stands behind it."""

    name = "summed"
    api = 1

    def __init__(self, seal: Seal, encoding: str = "ascii") -> None:
        self.seal = seal
        self.encoding = encoding

    def needs(self, profile: Mapping[str, object], source: str) -> LinkNeeds:
        return LinkNeeds()

    def driver(self, profile: Mapping[str, object], source: str) -> Driver:
        return Summed(self.seal, self.encoding)

    def line(self, number: str) -> bytes:
        body = f"PULL {number} N".encode()
        return body + b"*" + self.seal(body) + END

    def capture(self, *numbers: str) -> Capture:
        lines = [self.line(number) for number in numbers]
        return Capture(
            "pulls",
            tuple(Step(1.0, b"", line) for line in lines),
            tuple(
                Expected("reading", line, number, number, "newton")
                for line, number in zip(lines, numbers, strict=True)
            ),
        )


def _hexed(name: str) -> Seal:
    return lambda body: b"%0*X" % (CHECKSUMS[name].width_bits // 4, CHECKSUMS[name].of(body))


HUNDREDS = SummedFamily(lambda body: b"%02d" % (sum(body) % 100))
XORED = SummedFamily(_hexed("xor8"))
ADDED = SummedFamily(_hexed("sum8"))
NEGATED = SummedFamily(lambda body: b"%02X" % (-sum(body) & 0xFF))
POLYNOMIAL = SummedFamily(_hexed("crc16-xmodem"))
ODDLY = SummedFamily(lambda body: b"%02x" % (xor8(body) ^ 0x5A))
"""A checksum that stands in no table: an exclusive or that begins with another byte."""
SOUND = SummedFamily(_hexed("xor8"), "latin-1")
