"""A written scale on which people judge."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Rated(StrEnum):
    """What a scale is about."""

    ZONE = "zone"
    """A zone as it is at a stage: how water behaves, how it looks."""
    TREATMENT = "treatment"
    """A product in the hand: how it goes on and comes off, its smell, its dust."""


@dataclass(frozen=True, slots=True)
class Scale:
    """Steps from the worst to the best, each in the user's words; step 1 is the worst.

    `stages` are those at which zones are rated, none for a scale about products. A zone that is
    rated below the step `gone_below` after a wash has lost its treatment; None where the scale says
    nothing of that.
    """

    id: str
    name: str
    rated: Rated
    steps: tuple[str, ...]
    stages: tuple[str, ...] = ()
    gone_below: int | None = None

    def words(self, step: int) -> str:
        """A step as it is written: ``3 of 4: flat beads``."""
        return f"{step} of {len(self.steps)}: {self.steps[step - 1]}"
