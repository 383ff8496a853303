"""A meter with a state that its first presses do not show: a sign, a flag, a code, another range.

It is taught on some of what its display can show, and used on all of it. What is learned may leave
a state unread that nobody has shown; it may never read it as a number.
"""

from __future__ import annotations

import random
import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from decimal import Decimal

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.model import Flag, Instant, Quantity, Reading

MOST_PRESSES = 6
FURTHER = 24

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
    driver = registry.family(found.family).driver(tomllib.loads(found.profile), "learned")
    now = Instant(10**18, 10**12)
    driver.opening(now)
    for data, shown in meter.further():
        facts = []
        for part in (data, b""):
            now = Instant(now.utc_ns + 10**10, now.mono_ns + 10**10)
            facts += driver.feed(part, now)
        values = [f.value for f in facts if isinstance(f, Reading) and Flag.REPEAT not in f.flags]
        used.read += bool(values)
        used.unread += shown is not None and not values
        if values and values != [shown]:
            used.wrong = f"{data!r} shows {shown} and is read as {values}"
    return used


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
        about = About(kind, unit=unit, channel=channel)
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

    def further(self) -> Iterator[tuple[bytes, Decimal | None]]:
        """Presses over all of the display, and at its ends; then those that failed."""
        least, most = map(Decimal, self._trap.display)
        unit = Decimal(1).scaleb(-self._trap.decimals)
        for turn in range(FURTHER):
            low, high = [(least, most), (least, least + 40 * unit), (most - 40 * unit, most)][
                turn % 3
            ]
            yield self._press(low, high)
        for _ in range(3):
            self._count += 1
            shown = self._trap.draw(self._dice, least, most)
            for data in self._trap.fail(shown, self._count, self._dice):
                yield data, None
