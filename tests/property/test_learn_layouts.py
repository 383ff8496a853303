"""Drawn layouts whose numbers change their digits and signs: read, or told to be noise beforehand.

Three presses are a lesson, often on things that read much alike; twenty more are read rightly or
are noise that was told. Other marks, closing signs, control bytes and checksums of one byte and two
stand beside the number.
"""

from __future__ import annotations

import random
import re
import tomllib
from dataclasses import dataclass, field
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.told.told import ALWAYS_UNSEEN
from acquire.model import Quantity
from tests.learning.checks import KINDS, checksum, width
from tests.learning.trap import Bench

REGISTRY = Registry()
SUMS = {size: [kind for kind in KINDS if width(kind) == size] for size in (1, 2)}
NUMBERS = ("plain", "plain", "plain", "plus", "spaces", "zeros", "column", "behind")
BEFORE = ("", "$GL,", "#", "\x02", "\x01", "> ", "V=", "\x1b[2J", "[", "\x06", "\x02A1 ", "\x0b")
AFTER = ("*", "/", ",", "", " ", "\x03")
CLOSERS = ("", "", ";", "]", " ", "\x03", ";\x03", "\t", "\x17", ")")
ENDS = ("\r\n", "\r\n", "\r\n", "\r", "\n", "\x04", "\x1b[K", "\x00", "\n\r", "")
MARKS = (b"\xaa", b"\xaa\x01", b"\x02\x80", b"\x10\x02", b"\xff")
TAILS = (b"", b"\x55", b"\x03", b"\r\n")


@dataclass
class Layout:
    """One of them, by its number."""

    dice: random.Random
    unit: str = ""
    shown: list[Decimal] = field(default_factory=list)

    def __post_init__(self) -> None:
        choice = self.dice.choice
        self.is_force = choice([True, False, False])
        self.decimals = choice([1, 2, 0, 3] if self.is_force else [1, 1, 1, 2, 0])
        self.most = Decimal(choice([50, 500, 20] if self.is_force else [120, 199]))
        self.least = choice([Decimal(0), -self.most if self.is_force else Decimal(-10)])
        self.is_binary = self.dice.random() < 0.3
        self.number, self.unit = choice(NUMBERS), choice([" N", "N"] if self.is_force else ["GU"])
        self.before, self.after, self.closer = choice(BEFORE), choice(AFTER), choice(CLOSERS)
        self.end, self.mark, self.tail = choice(ENDS), choice(MARKS), choice(TAILS)
        self.size = choice([0, 1, 1, 2])
        self.sum = choice(SUMS[self.size or 1])
        self.is_digits = choice([True, True, False])
        self.point = choice("..,")
        low, high = choice([(10, 99), (10, 99), (-999, 999), (-999, -1), (1, 9)])
        if high < 0 <= self.least:
            low, high = 10, 99
        while len(set(self.shown)) < 3:
            self.shown = [self.drawn(Decimal(low), Decimal(high)) for _ in range(3)]

    def drawn(self, low: Decimal, high: Decimal) -> Decimal:
        step = Decimal(1).scaleb(-self.decimals)
        low, high = max(low, self.least), min(high, self.most)
        return (self.dice.randint(int(low / step), int(high / step)) * step).quantize(step)

    def written(self, value: Decimal) -> str:
        digits, minus = f"{abs(value):.{self.decimals}f}", "-" if value < 0 else ""
        digits = digits.replace(".", self.point)
        wide = 4 + self.decimals
        return {
            "plain": minus + digits,
            "plus": (minus or "+") + digits,
            "spaces": (minus + digits).rjust(wide + 1),
            "zeros": minus + digits.rjust(wide, "0"),
            "column": (minus or " ") + digits,
            "behind": digits + minus,
        }[self.number]

    def send(self, value: Decimal) -> bytes:
        body = (self.written(value) + self.unit).encode()
        body = (self.mark if self.is_binary else self.before.encode()) + body
        told = checksum(self.sum, body)
        if self.is_binary:
            return body + (told.to_bytes(self.size, "big") if self.size else b"") + self.tail
        if self.size:
            body += self.after.encode()
            digits = f"{told:0{2 * self.size}X}".encode()
            body += digits if self.is_digits else told.to_bytes(self.size, "big")
        return body + (self.closer + self.end).encode()

    def is_told(self, value: Decimal, found: Finding) -> bool:
        """Whether it was said beforehand that such a press is noise."""
        words = "\n".join(line for line in found.unseen if line != ALWAYS_UNSEEN)
        words += "\n".join(found.believed)
        above = re.findall(r"a number above (-?[\d.]+\d)", words)
        ranges = re.findall(r"from (-?[\d.]+) to (-?[\d.]+)", words)
        lengths = {len(self.send(one)) for one in self.shown}
        return (
            any(value > Decimal(limit) for limit in above)
            or any(not Decimal(low) <= value <= Decimal(high) for low, high in ranges)
            or (value < 0 <= min(self.shown) and "below zero" in words)
            or (max(self.shown) <= 0 <= value and "a number above zero" in words)
            or (len(self.send(value)) not in lengths and "of other than" in words)
            or bool(re.search(r"of other than \d+ digit|a number with more digits", words))
            or bool(re.search("upper half|other values of byte|some bits of byte", words))
            or bool(re.search("other words, or other ones|whether digits or words", words))
        )


@pytest.mark.parametrize("number", range(120))
def test_no_press_is_read_wrong_or_is_noise_without_a_word(number: int) -> None:
    layout = Layout(random.Random(f"layout {number}"))
    kind = Quantity.FORCE if layout.is_force else Quantity.GLOSS
    unit, channel = ("newton", None) if layout.is_force else ("gloss_unit", "60")
    presses = [Press(layout.send(value), value) for value in layout.shown]
    found = learn(presses, About(kind, unit=unit, channel=channel), REGISTRY)
    if found.outcome is not Outcome.SURE:
        assert found.believed
        return
    bench = Bench(REGISTRY.family(found.family).driver(tomllib.loads(found.profile), "learned"))
    for turn in range(20):
        bounds = [(layout.least, layout.most), (Decimal(-9), Decimal(12))][turn % 4 == 0]
        value = layout.drawn(*bounds)
        given = bench.press(layout.send(value))
        assert given in ([value], []), (layout.send(value), value)
        assert given or layout.is_told(value, found), (layout.send(value), value, found)
