"""A drawing of a page as an SVG file of its own (SVG 1.1), in millimetres. Pure; any thread.

The same drawing gives the same bytes: nothing in it says when or where it was made.
"""

from __future__ import annotations

import re
from typing import NamedTuple

from acquire.report.plots.ink import Ink
from acquire.report.plots.paper import PIXEL_MM

FONTS = "'DejaVu Sans', 'Noto Sans', Arial, sans-serif"
_ROOT = re.compile(
    r'<svg viewBox="0 0 ([0-9.]+) ([0-9.]+)" role="img" aria-label="([^"]*)">', re.DOTALL
)


class Size(NamedTuple):
    """Of a drawing, in its own pixels."""

    width: float
    height: float

    @property
    def width_mm(self) -> float:
        return self.width * PIXEL_MM

    @property
    def height_mm(self) -> float:
        return self.height * PIXEL_MM


def size_of(svg: str) -> Size:
    """How large a drawing is."""
    root = _ROOT.match(svg)
    assert root is not None
    return Size(float(root[1]), float(root[2]))


def standalone(svg: str) -> str:
    """The drawing as a file: on white, with its title, its size and fonts by name."""
    root = _ROOT.match(svg)
    assert root is not None
    size = size_of(svg)
    # Programs for print know links within a drawing by their older name alone.
    body = svg[root.end() :].replace(' href="#', ' xlink:href="#')
    return (
        '<?xml version="1.0" encoding="utf-8"?>\n'
        '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'width="{size.width_mm:.2f}mm" height="{size.height_mm:.2f}mm" '
        f'viewBox="0 0 {root[1]} {root[2]}" font-family="{FONTS}" stroke-linejoin="round">\n'
        f"<title>{root[3]}</title>\n"
        f'<rect width="{root[1]}" height="{root[2]}" fill="{Ink.PAPER.on_paper}"/>\n{body}\n'
    )
