"""A drawing of a page as an SVG file of its own (SVG 1.1), in millimetres. Pure; any thread.

The same drawing gives the same bytes: nothing in it says when or where it was made.
"""

from __future__ import annotations

import re
import textwrap
from html import escape, unescape
from typing import NamedTuple

from acquire.report.plots.ink import Ink
from acquire.report.plots.paper import PIXEL_MM, Paper

FONTS = "'DejaVu Sans', 'Noto Sans', Arial, sans-serif"
_ROOT = re.compile(
    r'<svg viewBox="0 (-?[0-9.]+) ([0-9.]+) ([0-9.]+)" role="img" aria-label="([^"]*)">', re.DOTALL
)
_LINE, _TEXT = 16, 12.5
_LETTERS = 52
"""Of a title, on a drawing as wide as a screen's."""
MOST_LINES = 2
HEAD = MOST_LINES * _LINE + 6
"""The most that a title takes."""


class Size(NamedTuple):
    """Of a drawing, in its own pixels; `top` is 0, or less where a title stands above it."""

    width: float
    height: float
    top: float = 0.0

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
    return Size(float(root[2]), float(root[3]), float(root[1]))


def titled(svg: str) -> str:
    """The drawing with its title above it, as one needs it that stands on no page.

    Of a long title two lines are shown; the whole of it is what a reader hears who cannot see.
    """
    root = _ROOT.match(svg)
    assert root is not None
    size = size_of(svg)
    said = textwrap.wrap(
        unescape(root[4]), Paper(size.width).letters(_LETTERS), max_lines=MOST_LINES,
        placeholder=" ...",
    )  # fmt: skip
    head = len(said) * _LINE + 6
    lines = "".join(
        f'<text x="8" y="{k * _LINE + 13 - head:g}" font-size="{_TEXT}" text-anchor="start" '
        f'fill="{Ink.TEXT.on_paper}">{escape(line)}</text>'
        for k, line in enumerate(said)
    )
    return (
        f'<svg viewBox="0 {-head:g} {root[2]} {size.height + head:.10g}" role="img" '
        f'aria-label="{root[4]}">{lines}{svg[root.end() :]}'
    )


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
        f'viewBox="0 {root[1]} {root[2]} {root[3]}" font-family="{FONTS}" '
        'stroke-linejoin="round">\n'
        f"<title>{root[4]}</title>\n"
        f'<rect y="{root[1]}" width="{root[2]}" height="{root[3]}" fill="{Ink.PAPER.on_paper}"/>\n'
        f"{body}\n"
    )
