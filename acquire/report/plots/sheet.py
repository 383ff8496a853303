"""A sheet to draw on: one column of strips in pixels, written as SVG to stand inside a page.

Texts stay texts in the browser's own font, so any script can be read, found and copied. They are
drawn as placeholders and put in afterwards: the drawing library neither reads them as formulas nor
needs a glyph for them. No state outlives a sheet: the library's own settings are put back, and the
board that all are drawn on is wiped. One thread at a time, since both are the process's.
"""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from enum import StrEnum
from functools import cache
from html import escape
from typing import NamedTuple

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import PathPatch
from matplotlib.path import Path

from acquire.report.plots.ink import Ink, coloured
from acquire.report.plots.paper import SCREEN, Paper
from acquire.report.plots.scale import Scale

MARGIN = 14
AXIS_HEIGHT = 42
_PER_INCH = 72
TEXT_PX = 13.5
SMALL_PX = 12.5


class Shape(StrEnum):
    """Marker shapes: they carry the meaning, colour only repeats it."""

    DOT = "o"
    RING = "ring"
    SMALL_RING = "small ring"
    DIAMOND = "D"
    TRIANGLE = "^"
    TRIANGLE_DOWN = "v"
    CROSS = "x"
    SQUARE = "s"
    LEFT_EDGE = "<"
    RIGHT_EDGE = ">"


_OPEN = (Shape.RING, Shape.SMALL_RING, Shape.CROSS, Shape.TRIANGLE)
_ROUND = (Shape.RING, Shape.SMALL_RING)


class _Pen(NamedTuple):
    """Lines that are drawn alike."""

    ink: Ink
    width: float
    is_dashed: bool = False


class _Stamp(NamedTuple):
    """Markers that are drawn alike."""

    shape: Shape
    ink: Ink
    size: float


class _Text(NamedTuple):
    """A text with its baseline at `y`."""

    x: float
    y: float
    text: str
    ink: Ink
    anchor: str
    size: float


_FINE = 0.8


@cache
def _board() -> tuple[Figure, Axes]:
    """What all sheets are drawn on, one after another; to make one takes as long as to draw."""
    figure = Figure(figsize=(1, 1), dpi=_PER_INCH, frameon=False)
    FigureCanvasSVG(figure)
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set_axis_off()
    return figure, axes


class Sheet:
    """`height` pixels of strips over a common `scale`; y counts from the top downwards.

    `name` makes the ids inside the SVG unique within a page. What is drawn alike is gathered and
    becomes one element of the drawing: bands below lines below markers below texts.
    """

    def __init__(self, name: str, height: float, scale: Scale, paper: Paper = SCREEN) -> None:
        self._name = name
        self.width = paper.width
        self._scale = scale
        self._height = height + AXIS_HEIGHT
        self._texts: list[_Text] = []
        self._bands: list[tuple[float, float, float, float]] = []
        self._lines: dict[_Pen, list[tuple[float, float, float, float]]] = {}
        self._marks: dict[_Stamp, list[tuple[float, float]]] = {}

    def x(self, value: float) -> float:
        """Where a value lies, in pixels from the left; values off the scale lie at its end."""
        inside = min(max(value, self._scale.low), self._scale.high)
        part = (inside - self._scale.low) / (self._scale.high - self._scale.low)
        return MARGIN + part * (self.width - 2 * MARGIN)

    def text(
        self, x: float, y: float, text: str, ink: Ink = Ink.TEXT, anchor: str = "left",
        size: float = TEXT_PX,
    ) -> None:  # fmt: skip
        """A text with its baseline at `y`."""
        if text:
            self._texts.append(_Text(x, y, text, ink, anchor, size))

    def marks(
        self, points: Sequence[tuple[float, float]], shape: Shape, ink: Ink, size: float = 6.5
    ) -> None:
        """Markers at (value, y)."""
        self._marks.setdefault(_Stamp(shape, ink, size), []).extend(
            (self.x(value), y) for value, y in points
        )

    def bar(self, low: float, high: float, y: float, ink: Ink, width: float = 2.2) -> None:
        """An interval with end strokes; an arrow where it goes on beyond the scale."""
        pen = _Pen(ink, width)
        left, right = self.x(low), self.x(high)
        self._line(pen, left, y, right, y)
        for value, x in ((low, left), (high, right)):
            if self._scale.holds(value):
                self._line(pen, x, y - 4, x, y + 4)
            else:
                back = x - 6 if value > low else x + 6
                self._line(pen, x, y, back, y - 4)
                self._line(pen, x, y, back, y + 4)

    def upright(
        self, value: float, top: float, bottom: float, ink: Ink, *, is_dashed: bool = False
    ) -> None:
        """A vertical line at a value; nothing where it lies off the scale."""
        if self._scale.holds(value):
            self._line(_Pen(ink, 1.2, is_dashed), self.x(value), top, self.x(value), bottom)

    def band(self, low: float, high: float, top: float, bottom: float) -> None:
        """A shaded stretch of values."""
        self._bands.append((self.x(low), top, self.x(high), bottom))

    def grid(self, top: float, bottom: float) -> None:
        """Fine lines at the ticks, to compare strips by eye."""
        for value in self._scale.ticks:
            self._line(_Pen(Ink.LINE, _FINE), self.x(value), top, self.x(value), bottom)

    def divide(self, y: float) -> None:
        """A thin line between two strips."""
        self._line(_Pen(Ink.LINE, _FINE), MARGIN, y, self.width - MARGIN, y)

    def axis(self, label: str) -> None:
        """The scale at the foot, with its label."""
        foot = self._height - AXIS_HEIGHT + 3
        pen = _Pen(Ink.SOFT, 1.0)
        self._line(pen, MARGIN, foot, self.width - MARGIN, foot)
        for value, text in zip(self._scale.ticks, self._scale.labels, strict=True):
            x = self.x(value)
            self._line(pen, x, foot, x, foot + 4)
            self.text(x, foot + 17, text, Ink.SOFT, "center", SMALL_PX)
        self.text(self.width / 2, foot + 34, label, Ink.SOFT, "center", SMALL_PX)

    def svg(self, title: str) -> str:
        """The finished drawing; `title` tells a reader who cannot see it what it shows."""
        figure, axes = _board()
        figure.set_size_inches(self.width / _PER_INCH, self._height / _PER_INCH)
        axes.set_xlim(0, self.width)
        axes.set_ylim(self._height, 0)
        out = io.StringIO()
        try:
            self._lay_down(axes)
            with mpl.rc_context({"svg.fonttype": "none", "svg.hashsalt": self._name}):
                figure.canvas.print_figure(out, format="svg", metadata={"Date": None})
        finally:
            for drawn in (*axes.texts, *axes.patches, *axes.lines):
                drawn.remove()
        return _for_page(out.getvalue(), self._name, title, [one.text for one in self._texts])

    def _line(self, pen: _Pen, x0: float, y0: float, x1: float, y1: float) -> None:
        self._lines.setdefault(pen, []).append((x0, y0, x1, y1))

    def _lay_down(self, axes: Axes) -> None:
        # As artists and no more: the axes need not find out how far these reach.
        for number, one in enumerate(self._texts):
            axes.text(
                one.x, one.y, _placeholder(number), color=one.ink.value, ha=one.anchor,
                va="baseline", fontsize=one.size, parse_math=False,
            )  # fmt: skip
        if self._bands:
            corners = [
                corner
                for x0, y0, x1, y1 in self._bands
                for corner in ((x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0))
            ]
            codes = [Path.MOVETO, Path.LINETO, Path.LINETO, Path.LINETO, Path.CLOSEPOLY]
            axes.add_artist(PathPatch(
                Path(corners, codes * len(self._bands)),
                facecolor=Ink.BAND.value, linewidth=0, zorder=1, clip_on=False,
            ))  # fmt: skip
        # Fine lines first: what is measured lies above what helps to read it.
        for layer, (pen, lines) in enumerate(sorted(self._lines.items(), key=_weight)):
            ends = [end for x0, y0, x1, y1 in lines for end in ((x0, y0), (x1, y1))]
            axes.add_artist(PathPatch(
                Path(ends, [Path.MOVETO, Path.LINETO] * len(lines)),
                fill=False, edgecolor=pen.ink.value, linewidth=pen.width, capstyle="butt",
                linestyle=(0, (4, 3)) if pen.is_dashed else "-", zorder=2 + layer / 100,
                clip_on=False,
            ))  # fmt: skip
        for stamp, points in self._marks.items():
            is_open = stamp.shape in _OPEN
            axes.add_artist(Line2D(
                [x for x, _ in points],
                [y for _, y in points],
                linestyle="none",
                marker="o" if stamp.shape in _ROUND else stamp.shape.value,
                markersize=stamp.size,
                markerfacecolor="none" if is_open else stamp.ink.value,
                markeredgecolor=stamp.ink.value,
                markeredgewidth=1.6 if is_open else 0.0,
                clip_on=False,
                zorder=3,
            ))  # fmt: skip


def _weight(entry: tuple[_Pen, object]) -> float:
    return entry[0].width


def _placeholder(number: int) -> str:
    return f"tx{number}tx"


def _for_page(svg: str, name: str, title: str, texts: Sequence[str]) -> str:
    """The drawing alone: no document head, no metadata, no fonts, ids of its own, texts put in."""
    box = re.search(r'<svg[^>]*viewBox="([^"]+)"[^>]*>', svg)
    assert box is not None
    body = svg[box.end() : svg.rindex("</svg>")]
    body = re.sub(r"<metadata>.*?</metadata>|<style.*?</style>", "", body, flags=re.DOTALL)
    body = re.sub(r"<defs>\s*</defs>", "", body)
    body = body.replace("xlink:href", "href")
    body = re.sub(r'\s*transform="rotate\(-?0[^"]*"', "", body)
    body = re.sub(r"\s*font-family: [^;\"]*;?", "", body)
    used = set(re.findall(r'href="#([^"]+)"', body))
    body = re.sub(r' id="([^"]+)"', lambda m: f' id="{name}-{m[1]}"' if m[1] in used else "", body)
    body = body.replace('href="#', f'href="#{name}-')
    body = coloured(re.sub(r"\s*\n\s*", " ", body))
    # Last: a text may look like anything that was replaced before.
    body = re.sub(r"tx(\d+)tx", lambda m: escape(texts[int(m[1])]), body)
    return f'<svg viewBox="{box[1]}" role="img" aria-label="{escape(title)}">{body}</svg>'
