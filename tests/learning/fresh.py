"""Presses to come: what a profile that somebody is sure of makes of a hundred that nobody has seen.

A lesson is given on a few things that are much alike; what is measured afterwards has more digits
or fewer, lies at the ends of the display, below zero, hours later, beside other temperatures. Such
a press may be noise, and never another number than it shows. Where more than a few are noise, it
has to have been told what no press has shown: who hears nothing is right to rely on the profile.
"""

from __future__ import annotations

import random
import tomllib
from collections import Counter, defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field
from decimal import Decimal

from acquire.driverapi.registry import Registry
from acquire.learn import Finding, Outcome
from acquire.learn.told.told import ALWAYS_UNSEEN
from tests.learning.family import is_shown, taught
from tests.learning.meter import Meter
from tests.learning.trap import Bench

PRESSES = 100
FEW = 10
"""So many of them may be noise without a word."""
_AT_THE_ENDS = 16
_NEAR = 3
_BANDS = ((10, 99), (1, 9), (50, 99), (100, 999))
"""What the things of a lesson read, in tenths of which the display has as many as it has."""


@dataclass
class Fresh:
    """What came of the fresh presses of the profiles of one layout.

    `noisy` are profiles that made noise of more than a few, `silent` those of them that told
    nothing of it. `examples` have a line for each of these, and for each wrong value.
    """

    sure: int = 0
    presses: int = 0
    read: int = 0
    wrong: int = 0
    noisy: int = 0
    silent: int = 0
    examples: list[str] = field(default_factory=list)

    def add(self, other: Fresh) -> None:
        for name in ("sure", "presses", "read", "wrong", "noisy", "silent"):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        self.examples += other.examples


def band(meter: Meter) -> tuple[Decimal, Decimal] | None:
    """Between which numbers the things of a narrow lesson are; None where its display has none."""
    low, high = random.Random(repr(meter.display)).choice(_BANDS)
    return (Decimal(low), Decimal(high)) if low < meter.display.most / 2 else None


def fresh(meter: Meter, found: Finding, registry: Registry) -> Fresh:
    """What a profile makes of a hundred further presses of its meter."""
    told = Fresh()
    if found.outcome is not Outcome.SURE:
        return told
    bench = Bench(registry.family(found.family).driver(tomllib.loads(found.profile), "learned"))
    display, unread = meter.display, b""
    told.sure, told.presses = 1, PRESSES
    for turn in range(PRESSES):
        near = [display.least, display.most][turn % 2]
        is_near = turn < _AT_THE_ENDS
        data, shown = meter.press(near - _NEAR, near + _NEAR) if is_near else meter.press()
        values = bench.press(data)
        if not values:
            unread = data
        elif is_shown(shown, values, meter):
            told.read += 1
        else:
            told.wrong += 1
            told.examples.append(f"{data!r} shows {shown} and was read as {values}")
    if told.read + told.wrong < PRESSES - FEW:
        told.noisy = 1
        if set(found.unseen) <= {ALWAYS_UNSEEN}:
            told.silent = 1
            told.examples.append(f"{unread!r} is noise, and so are others: nothing was told of it")
    return told


def freshly(
    numbers: range, registry: Registry, drawn: Callable[[int], Meter], *, alone: bool = False,
    limits: bool = False, narrow: bool = False,
) -> dict[str, Fresh]:  # fmt: skip
    """The fresh presses of these meters by layout, each meter taught anew."""
    rows: dict[str, Fresh] = defaultdict(Fresh)
    for number in numbers:
        meter = drawn(number)
        lesson = band(meter) if narrow else None
        found, _ = taught(meter, registry, alone=alone, limits=limits, lesson=lesson)
        told = fresh(meter, found, registry)
        told.examples = [f"{number} {meter.layout.name}: {one}" for one in told.examples]
        rows[meter.layout.name].add(told)
    return rows


def shares(rows: dict[str, Fresh]) -> Counter[str]:
    """Over all layouts: sure profiles, their presses, those read and wrong, noisy and silent."""
    names = ("sure", "presses", "read", "wrong", "noisy", "silent")
    return Counter({name: sum(getattr(row, name) for row in rows.values()) for name in names})
