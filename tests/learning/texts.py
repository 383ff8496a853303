"""Drawn meters that send text: fields between separators, units, counts, checksums, padding."""

from __future__ import annotations

import random
from collections.abc import Callable
from decimal import Decimal

from tests.learning.checks import KINDS, checksum, width
from tests.learning.meter import Display

Maker = Callable[[Decimal, int, random.Random], str]

_LABELS = ("V", "VAL", "R", "M1", "G", "Result", "XK-0417", "data")
_UNITS = {"gloss": ["GU"], "force": ["N", "gf", "kgf", "lbf"], "transmittance": ["%"]}


class Texts:
    """One layout of lines."""

    learnable = True
    counts_to = 999

    def __init__(self, draw: random.Random, display: Display) -> None:
        self.end = draw.choice(["\r\n", "\r\n", "\r", "\n", "\x03", ";"])
        self.comma = draw.random() < 0.25
        between = [",", ";", " ", "\t", ":", "|"]
        if self.comma:
            between.remove(",")
        if self.end == ";":
            between = [c for c in between if c != ";"]
        self.between = draw.choice(between)
        self.unit = draw.choice(_UNITS[display.kind]) if draw.random() < 0.7 else ""
        self.glued = draw.random() < 0.3
        self.style = draw.choice(["plain", "plain", "spaces", "zeros", "plus"])
        self.width = 1 + len(str(int(max(-display.least, display.most)))) + 1 + display.decimals
        self.front = draw.choice(["", "", "\x02", "#", "$"])
        self.fields = self._drawn(draw)
        self.check = draw.choice(KINDS) if draw.random() < 0.4 else ""
        self.after = draw.choice(["*", ",", " ", "/"])
        self.upper = draw.random() < 0.7
        self.header = draw.choice(["MEASUREMENT", "== OK =="]) if draw.random() < 0.1 else ""
        self.name = "text with checksum" if self.check else "text"
        self.status = draw.choice(["OK", "ST", "A", "00"]) if draw.random() < 0.4 else ""

    def _drawn(self, draw: random.Random) -> list[Maker]:
        fields: list[Maker] = []
        if draw.random() < 0.6:
            label = draw.choice(_LABELS)
            fields.append(lambda v, n, r: label)
        if draw.random() < 0.5:
            form = draw.choice(["{:04d}", "{:d}", "{:03d}"])
            fields.append(lambda v, n, r: form.format(n))
        if draw.random() < 0.4:
            point = "," if self.comma else "."
            fields.append(lambda v, n, r: f"{r.uniform(18, 29):.1f}".replace(".", point))
        if draw.random() < 0.25:
            fields.append(lambda v, n, r: f"{r.randrange(256):02X}")
        if draw.random() < 0.25:
            fields.append(lambda v, n, r: f"T{r.randrange(100, 400)}")
        if draw.random() < 0.2:
            fields.append(
                lambda v, n, r: f"{(9 + n // 60) % 24:02d}:{n % 60:02d}:{r.randrange(60):02d}"
            )
        if draw.random() < 0.2:
            fields.append(
                lambda v, n, r: f"{r.uniform(0, 9):.3f}".replace(".", "," if self.comma else ".")
            )
        draw.shuffle(fields)
        self.place = draw.randint(0, len(fields))
        return fields

    def number(self, shown: Decimal) -> str:
        """The displayed number as this meter writes it."""
        text = format(shown, "f")
        if self.style == "plus" and shown >= 0:
            text = f"+{text}"
        if self.style == "zeros":
            sign, digits = ("-", text[1:]) if shown < 0 else ("", text)
            text = sign + digits.rjust(self.width - len(sign), "0")
        if self.style == "spaces":
            text = text.rjust(self.width)
        return text.replace(".", ",") if self.comma else text

    def send(self, shown: Decimal, count: int, randomness: random.Random) -> bytes:
        return self._line(self.number(shown), self.status, shown, count, randomness)

    def fail(self, count: int, randomness: random.Random) -> bytes | None:
        if not self.status:
            return None
        last = self.number(Decimal(0).quantize(Decimal(1).scaleb(-1)))
        return self._line(last, "E" + self.status[1:], Decimal(0), count, randomness)

    def _line(
        self, number: str, status: str, shown: Decimal, count: int, randomness: random.Random
    ) -> bytes:
        parts = [make(shown, count, randomness) for make in self.fields]
        value = number
        if self.unit:
            value += ("" if self.glued else self.between) + self.unit
        parts.insert(self.place, value)
        if status:
            parts.append(status)
        text = self.front + self.between.join(parts)
        if self.check:
            digits = 2 * width(self.check)
            told = format(checksum(self.check, text.encode("latin-1")), f"0{digits}X")
            text += self.after + (told if self.upper else told.lower())
        head = self.header + self.end if self.header else ""
        return (head + text + self.end).encode("latin-1")


class Angles:
    """A gloss meter that sends three geometries at a press, in one line or in one line each."""

    learnable = True
    counts_to = 999

    def __init__(self, draw: random.Random, display: Display) -> None:
        self.one_line = draw.random() < 0.5
        self.shown_at = draw.randrange(3)
        self.between = draw.choice([",", ";", " "])
        self.display = display
        self.counted = draw.random() < 0.5
        self.name = "text, three geometries in a line" if self.one_line else "text, three lines"

    @property
    def shown_angle(self) -> str:
        """The geometry of the number on its display."""
        return ("20", "60", "85")[self.shown_at]

    def send(self, shown: Decimal, count: int, randomness: random.Random) -> bytes:
        values = [self.display.draw(randomness) for _ in range(3)]
        values[self.shown_at] = shown
        number = [f"{count:04d}"] if self.counted else []
        pairs = [[str(a), str(v)] for a, v in zip((20, 60, 85), values, strict=True)]
        if self.one_line:
            rows = [[*number, *(part for pair in pairs for part in pair), "GU"]]
        else:
            rows = [[*number, *pair, "GU"] for pair in pairs]
        return "".join(self.between.join(row) + "\r\n" for row in rows).encode()

    def fail(self, count: int, randomness: random.Random) -> bytes | None:
        return None
