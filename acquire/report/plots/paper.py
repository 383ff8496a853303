"""What a drawing is made for: how wide it is, and how high it may be. Pure; any thread.

A drawing for a screen is 400 pixels wide and as high as it needs. One for print is drawn anew in
the size that was asked for, so that its text has the same size on every paper: a drawing that is
only scaled has text that nobody can read on a narrow one.
"""

from __future__ import annotations

from dataclasses import dataclass

SCREEN_WIDTH = 400

PIXEL_MM = 0.2258
"""Of a printed drawing: its small text of 12.5 pixels is 8 points high (1 point: 25.4 mm / 72)."""

LEAST_WIDTH_MM, MOST_WIDTH_MM = 90, 600
LEAST_HEIGHT_MM, MOST_HEIGHT_MM = 40, 1000
"""A narrower one than the screen's has no room for its words; on a larger one nobody prints."""


@dataclass(frozen=True, slots=True)
class Paper:
    """`width` in pixels of a drawing; `height` is the most that one may have, None as it needs."""

    width: float = SCREEN_WIDTH
    height: float | None = None

    @classmethod
    def of_mm(cls, width_mm: float, height_mm: float | None = None) -> Paper:
        """The paper of a printed drawing."""
        return cls(width_mm / PIXEL_MM, None if height_mm is None else height_mm / PIXEL_MM)

    def high(self, on_screen: float) -> float:
        """How high a chart is that is so high on a screen: in proportion, or as asked for."""
        return on_screen * self.width / SCREEN_WIDTH if self.height is None else self.height

    @property
    def is_screen(self) -> bool:
        """Whether a pixel is as fine as can be seen."""
        return self.width == SCREEN_WIDTH and self.height is None

    def points(self, on_screen: int) -> int:
        """How many points of a course are told apart where so many are on a screen."""
        return on_screen if self.is_screen else round(4 * on_screen * self.width / SCREEN_WIDTH)

    def letters(self, on_screen: int) -> int:
        """How many letters have room where so many have on a screen."""
        return int(on_screen * self.width / SCREEN_WIDTH)


SCREEN = Paper()
