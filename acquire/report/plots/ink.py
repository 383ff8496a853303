"""The colours of the drawings, as roles that the page's style sheet fills.

A drawing is made with one placeholder colour a role; the finished SVG names the variable instead,
so that the same drawing is right on light and on dark paper and in print. Pure; any thread.
"""

from __future__ import annotations

from enum import StrEnum


class Ink(StrEnum):
    """Roles; the value is the placeholder, a colour that nothing else uses."""

    TEXT = "#010101"
    SOFT = "#010102"
    LINE = "#010103"
    CONTROL = "#010104"
    TREATED = "#010105"
    LEFT_OUT = "#010106"
    BAND = "#010107"
    PAPER = "#010108"

    @property
    def variable(self) -> str:
        return f"var(--{self.name.lower().replace('_', '-')})"


def coloured(svg: str) -> str:
    """The drawing with the variables in the place of the placeholders."""
    for ink in Ink:
        svg = svg.replace(ink.value, ink.variable)
    return svg
