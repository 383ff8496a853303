"""Figures of earlier years, which came out of a file: what they can be figures of. Facts only."""

from __future__ import annotations

from enum import StrEnum

from acquire.model.fact import Quantity

HIGHER = "higher is better"
"""The condition under which the direction of a past figure is kept, yes or no."""
AT_LEAST = "life had not ended"
"""The condition under which it is kept that a life is at least as long as its figure: yes."""


class PastKind(StrEnum):
    """What a past figure is a figure of."""

    GLOSS = "gloss"
    FORCE = "force"
    COEFFICIENT = "coefficient"
    TRANSMITTANCE = "transmittance"
    WASHES = "washes"
    POINTS = "points"
    STEP = "step"

    @property
    def quantity(self) -> Quantity | None:
        """The quantity with units of its own; None for a pure number."""
        return Quantity(self.value) if self.value in set(Quantity) else None
