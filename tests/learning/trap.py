"""A meter with a state that its first presses do not show: a sign, a flag, a code, another range.

It is taught on some of what its display can show, and used on all of it. What is learned may leave
a state unread that nobody has shown; it may never let it count as a number.

What counts is measured as at the bench: a check comes first, an ordinary press here, and readings
count from there until a notice of power-up ends the check; later ones are loose until the next
check. So a wrong value is a misread unless such a notice came between the check and it. A flag in
the count of presses cannot be told from a count that was gone on with elsewhere, nor needs to be:
both leap, and nothing is believed of the meter any more after either.
"""

from __future__ import annotations

import random
import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from decimal import Decimal

from acquire.driverapi import Driver
from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.model import Fact, Flag, Instant, Notice, NoticeKind, Quantity, Reading

MOST_PRESSES = 6
FURTHER = 24
CHECK_TRIES = 8

Send = Callable[[Decimal, int, random.Random], bytes]
Fail = Callable[[Decimal, int, random.Random], list[bytes]]


def never(shown: Decimal, count: int, dice: random.Random) -> list[bytes]:
    """A meter that sends nothing where a press failed."""
    return []


@dataclass(frozen=True)
class Trap:
    """`taught` are the limits of what it is taught on, `display` those of what it can show."""

    send: Send
    fail: Fail = never
    kind: str = "gloss"
    decimals: int = 1
    display: tuple[str, str] = ("0", "120")
    taught: tuple[str, str] = ("0.1", "120")

    def draw(self, dice: random.Random, low: Decimal, high: Decimal) -> Decimal:
        """A number of the display from `low` to `high`."""
        unit = Decimal(1).scaleb(-self.decimals)
        return (dice.randint(int(low / unit), int(high / unit)) * unit).quantize(unit)


@dataclass
class Used:
    """What came of one meter: `wrong` is a frame that was read as what it does not say."""

    found: Finding
    wrong: str = ""
    read: int = 0
    unread: int = 0


def use(trap: Trap, seed: str, registry: Registry, *, presses: int = 3) -> Used:
    """Teach a meter drawn by this seed and use it on everything it can show."""
    dice = random.Random(seed)
    meter = _Meter(trap, dice, dice.randrange(300))
    found = meter.learned(registry, presses)
    used = Used(found)
    if found.outcome is not Outcome.SURE:
        return used
    bench = Bench(registry.family(found.family).driver(tomllib.loads(found.profile), "learned"))
    further = meter.further()
    while True:
        # Before the next press is made: its count is the next one, as at the bench.
        for _ in range(CHECK_TRIES):
            if bench.is_checked:
                break
            ordinary, value = meter.ordinary()
            if bench.press(ordinary, is_check=True) not in ([], [value]):
                used.wrong = f"{ordinary!r} shows {value} and is read otherwise at a check"
        if (one := next(further, None)) is None:
            return used
        data, shown = one
        values = bench.press(data)
        used.read += bool(values)
        used.unread += shown is not None and not values
        if bench.is_checked and values and values != [shown]:
            used.wrong = f"{data!r} shows {shown} and is read as {values}"


class Bench:
    """A driver in use. `is_checked`: its readings count, a check was made and nothing ended it.

    `told` are the kinds of the notices of the last press.
    """

    def __init__(self, driver: Driver) -> None:
        self._driver = driver
        self._now = Instant(10**18, 10**12)
        self.is_checked = False
        self.told: list[NoticeKind] = []
        driver.opening(self._now)

    def press(self, data: bytes, *, is_check: bool = False) -> list[Decimal | None]:
        """What a press is read as, without repeats."""
        facts: list[Fact] = []
        for part in (data, b""):
            self._now = Instant(self._now.utc_ns + 10**10, self._now.mono_ns + 10**10)
            facts += self._driver.feed(part, self._now)
        self.told = [f.kind for f in facts if isinstance(f, Notice)]
        values = [f.value for f in facts if isinstance(f, Reading) and Flag.REPEAT not in f.flags]
        # A notice is told before the readings of its frame, so a check may begin with it. One
        # whose press is noise is none.
        goes_on = self.is_checked and NoticeKind.POWER_UP not in self.told
        self.is_checked = bool(values) if is_check else goes_on
        return values


class _Meter:
    def __init__(self, trap: Trap, dice: random.Random, count: int) -> None:
        self._trap, self._dice, self._count = trap, dice, count

    def _press(self, low: Decimal, high: Decimal) -> tuple[bytes, Decimal]:
        shown = self._trap.draw(self._dice, low, high)
        self._count += 1
        return self._trap.send(shown, self._count, self._dice), shown

    def learned(self, registry: Registry, presses: int) -> Finding:
        """From presses on what it is taught on; limits are said where they would tell."""
        kind = Quantity(self._trap.kind)
        unit = {"gloss": "gloss_unit", "force": "newton", "transmittance": "percent"}[kind]
        channel = {"gloss": "60", "force": None, "transmittance": "315-400"}[kind]
        # All of a lesson is of one unit and geometry, as the person knows.
        about = About(kind, unit=unit, channel=channel, settled=MOST_PRESSES)
        least, most = map(Decimal, self._trap.display)
        low, high = map(Decimal, self._trap.taught)
        made = [Press(*self._press(low, high)) for _ in range(presses)]
        while True:
            found = learn(made, about, registry)
            if found.outcome is not Outcome.MORE or len(made) >= MOST_PRESSES:
                return found
            above, below = found.tell_above, found.tell_below
            if below is not None and below < least and about.least is None:
                about = replace(about, least=least)
            elif above is not None and above > most and about.most is None:
                about = replace(about, most=most)
            elif above is not None and above <= high:
                made.append(Press(*self._press(above, high)))
            else:
                made.append(Press(*self._press(low, high)))

    def ordinary(self) -> tuple[bytes, Decimal]:
        """A press like those of the lesson."""
        return self._press(*map(Decimal, self._trap.taught))

    def further(self) -> Iterator[tuple[bytes, Decimal | None]]:
        """Presses over all of the display, and at its ends; then those that failed."""
        least, most = map(Decimal, self._trap.display)
        unit = Decimal(1).scaleb(-self._trap.decimals)
        for turn in range(FURTHER):
            low, high = [(least, most), (least, least + 40 * unit), (most - 40 * unit, most)][
                turn % 3
            ]
            yield self._press(low, high)
        kinds = len(self._failed(least, most))
        for kind in (*range(kinds), *range(kinds), *range(kinds)):
            # Each with a count of its own: one that stood still would end the check by itself.
            self._count += 1
            yield self._failed(least, most)[kind], None

    def _failed(self, least: Decimal, most: Decimal) -> list[bytes]:
        shown = self._trap.draw(self._dice, least, most)
        return self._trap.fail(shown, self._count, self._dice)
