"""A learned profile held against the bytes it was learned from, by the very driver it is for.

Every press must give the number that was shown, once, and no other reading. Pure.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from decimal import Decimal

from acquire.driverapi.registry import Registry
from acquire.errors import CoatbenchError
from acquire.learn.press import Press
from acquire.model import Fact, Flag, Instant, Reading

_APART_NS = 10_000_000_000
_START = Instant(1_750_000_000_000_000_000, 1_000_000_000_000)


def readings(
    family: str, profile: str, presses: Sequence[bytes], registry: Registry
) -> list[list[Reading]]:
    """What a fresh driver makes of presses that are far apart: its readings, repeats left out.

    Raises `CoatbenchError` if the profile has faults.
    """
    driver = registry.family(family).driver(tomllib.loads(profile), "the learned profile")
    now = _START
    driver.opening(now)
    facts: list[list[Fact]] = []
    for data in presses:
        now = _later(now)
        here = list(driver.feed(data, now))
        now = _later(now)
        here += driver.feed(b"", now)
        facts.append(here)
    return [
        [f for f in here if isinstance(f, Reading) and Flag.REPEAT not in f.flags] for here in facts
    ]


def faults(family: str, profile: str, presses: Sequence[Press], registry: Registry) -> list[str]:
    """Every way in which the profile does not give what was shown; empty if it is proved."""
    try:
        given = readings(family, profile, [press.data for press in presses], registry)
    except CoatbenchError as error:
        return [str(error)]
    found = []
    for number, (here, press) in enumerate(zip(given, presses, strict=True), 1):
        channels = [reading.channel for reading in here]
        values: list[Decimal | None] = [reading.value for reading in here]
        if press.shown not in values or len(set(channels)) < len(channels):
            told = ", ".join(reading.text for reading in here) or "no reading"
            found.append(f"press {number} shows {press.shown} and gives {told}")
    return found


def _later(at: Instant) -> Instant:
    return Instant(at.utc_ns + _APART_NS, at.mono_ns + _APART_NS)
