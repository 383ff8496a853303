"""Drawn meters that send what many do beside the number: dates, times, sums, signs elsewhere.

A lesson takes some minutes and what is read afterwards is of other hours and days: a clock goes on.
Some are heard by a host whose clock is right, others by nobody's clock. Written from what meters
do. ISO 8601 names the forms of dates; ISO/IEC 7812-1 the check digit of doubled digits.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from decimal import Decimal

from tests.learning.meter import Display, Meter

_LESSON = 12
"""Presses after which it is used: on other days."""

DATES = {
    "iso": "%Y-%m-%d %H:%M:%S", "minutes": "%Y-%m-%d %H:%M", "T": "%Y-%m-%dT%H:%M:%SZ",
    "ms": "%Y-%m-%dT%H:%M:%S.{ms}Z", "dots": "%d.%m.%Y %H:%M:%S", "short": "%d.%m.%y %H:%M",
    "months": "%d-%b-%Y %H:%M", "halves": "%m/%d/%y %I:%M %p", "time": "%H:%M:%S",
    "fine": "%H:%M:%S.{ms}", "packed": "%Y%m%d%H%M%S", "date": "%d.%m.%Y",
}  # fmt: skip
CLOCKED = {"hm": "%H:%M", "six": "%H%M%S", "points": "%H.%M.%S", "day": "%d.%m.%y"}
"""Those that only the host's clock tells at once."""
SIGNS: dict[str, tuple[str, str]] = {
    "apart": ("{p}{v}", "-{p}{v}"), "plus apart": ("+{p}{v}", "-{p}{v}"), "behind": ("{v}", "{v}-"),
    "brackets": ("{v}", "({v})"), "filled brackets": (" {v} ", "({v})"), "before": ("P{v}", "N{v}"),
    "directions": ("{v} T", "{v} C"), "sides": ("R{p}{v}", "L{p}{v}"), "credit": ("{v}", "{v} CR"),
    "directions last": ("{v} {u} T", "{v} {u} C"), "filled, last": ("{p}{v} {u} P", "{p}{v} {u} N"),
}  # fmt: skip
SUMS: dict[str, Callable[[str], str]] = {
    "digits 10": lambda t: str(sum(_digits(t)) % 10),
    "digits 100": lambda t: f"{sum(_digits(t)) % 100:02d}",
    "bytes 10": lambda t: str(sum(t.encode()) % 10),
    "bytes 100": lambda t: f"{sum(t.encode()) % 100:02d}",
    "bytes 256": lambda t: f"{sum(t.encode()) % 256:03d}",
    "negated": lambda t: f"{-sum(t.encode()) % 256:03d}",
    "doubled": lambda t: str(
        -sum(sum(divmod(2 * d, 10)) if i % 2 == 0 else d for i, d in enumerate(_digits(t)[::-1]))
        % 10
    ),
}
FIELDS = ("hexadecimal", "seconds since 1970", "milliseconds on")


class Usual:
    """One layout: `how` is its kind."""

    learnable = True
    counts_to = 0

    def __init__(self, how: str, display: Display, dice: random.Random) -> None:
        self.name = f"usual: {how.partition(': ')[0]}"
        self._how = how.partition(": ")[2] or how
        self._kind = how.partition(": ")[0]
        self._width = len(str(int(display.most))) + 1 + display.decimals
        self._between = dice.choice([",", ";", " ", "\t"])
        self._pad = dice.choice(["", " ", "behind"]) if self._kind != "sign" else " "
        self._is_behind = dice.random() < 0.5
        self._unit = {"gloss": "GU", "force": "N"}[display.kind]
        # Not so that the lesson goes past midnight, where a time alone would fall.
        day = timedelta(days=dice.randrange(700), seconds=dice.randrange(80_000))
        self._now = datetime(2024, 3, 1, tzinfo=UTC) + day
        self._begun = self._now
        self._sent = 0
        self._has_clock = self._how in CLOCKED or dice.random() < 0.5

    @property
    def heard(self) -> datetime | None:
        """When the host heard the last press, by a clock that is some seconds off."""
        return self._now + timedelta(seconds=40) if self._has_clock else None

    def send(self, shown: Decimal, count: int, randomness: random.Random) -> bytes:
        self._sent += 1
        leap = randomness.randint(5, 60) if self._sent <= _LESSON else randomness.randrange(300_000)
        self._now += timedelta(seconds=leap)
        number = self._number(shown)
        field = self._field(randomness)
        parts = [number if f" {self._unit} " in number else f"{number} {self._unit}"]
        if field:
            parts.insert(self._is_behind, field)
        text = self._between.join(parts)
        if self._kind == "sum":
            text += "*" + SUMS[self._how](text)
        return f"{text}\r\n".encode()

    def fail(self, count: int, randomness: random.Random) -> bytes | None:
        return None

    def _number(self, shown: Decimal) -> str:
        text = format(abs(shown), "f")
        pad = " " * (self._width - len(text))
        if self._kind == "sign":
            return SIGNS[self._how][shown < 0].format(p=pad, v=text, u=self._unit)
        return {"": text, " ": pad + text, "behind": text + pad}[self._pad]

    def _field(self, randomness: random.Random) -> str:
        form = {**DATES, **CLOCKED}.get(self._how)
        if form is not None:
            return self._now.strftime(form).format(ms=f"{randomness.randrange(1000):03d}")
        if self._how == "hexadecimal":
            return f"{randomness.randrange(16 ** randomness.randint(2, 6)):x}"
        if self._how == "seconds since 1970":
            return str(round(self._now.timestamp()))
        if self._how == "milliseconds on":
            gone = self._now - self._begun
            return str(123_456 + gone.days * 86_400_000 + gone.seconds * 1000)
        return ""


def _digits(text: str) -> list[int]:
    return [int(sign) for sign in text if sign.isdecimal()]


KINDS = (
    *(f"date: {form}" for form in (*DATES, *CLOCKED)),
    *(f"sign: {form}" for form in SIGNS),
    *(f"sum: {form}" for form in SUMS),
    *(f"field: {form}" for form in FIELDS),
)


def usual(number: int) -> Meter:
    """The meter of this number; kinds take turns."""
    dice = random.Random(f"usual {number}")
    how = KINDS[number % len(KINDS)]
    is_signed = how.startswith("sign")
    most = Decimal(50 if is_signed else dice.choice([100, 120, 199]))
    least = -most if is_signed else Decimal(0)
    display = Display("force" if is_signed else "gloss", dice.choice([1, 1, 2]), least, most)
    return Meter(display, Usual(how, display, dice), 0, dice)
