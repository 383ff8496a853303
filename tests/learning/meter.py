"""A meter drawn at random: what it measures, what its display shows, what it sends at a press.

Written from what meters do and not from what the learner looks for. Deterministic by its number.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Protocol


class Layout(Protocol):
    """How a press goes into bytes.

    `counts_to` is where its counter starts again: presses up to there have to be read.
    """

    name: str
    learnable: bool
    counts_to: int

    def send(self, shown: Decimal, count: int, randomness: random.Random) -> bytes:
        """The bytes of a press."""
        ...

    def fail(self, count: int, randomness: random.Random) -> bytes | None:
        """The bytes of a press that gave no result; None for a meter that sends nothing then."""
        ...


@dataclass
class Display:
    """What can be shown: so many decimals, from the least to the largest."""

    kind: str
    decimals: int
    least: Decimal
    most: Decimal

    def draw(
        self, randomness: random.Random, low: Decimal | None = None, high: Decimal | None = None
    ) -> Decimal:
        """A number that the display can show, as it shows it."""
        unit = Decimal(1).scaleb(-self.decimals)
        least = self.least if low is None else max(low, self.least)
        most = self.most if high is None else min(high, self.most)
        steps = randomness.randint(int(least / unit), int(most / unit))
        return (steps * unit).quantize(unit)


@dataclass
class Meter:
    """A meter with its button."""

    display: Display
    layout: Layout
    count: int
    randomness: random.Random
    words: dict[str, str] = field(default_factory=dict)

    def press(
        self, low: Decimal | None = None, high: Decimal | None = None
    ) -> tuple[bytes, Decimal]:
        """What is sent and what is shown."""
        shown = self.display.draw(self.randomness, low, high)
        self.count += 1
        return self.layout.send(shown, self.count, self.randomness), shown
