"""A drawing of figures in their order or over time, written as SVG to stand inside a page.

Made by hand and not by the drawing library of the sheets: a page of ten years has hundreds of these
drawings, and it must not take minutes. Of more points than the drawing has columns each column
shows the lowest and the highest, so that nothing that stands out is lost. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

import numpy as np

from acquire.history.series import Floats
from acquire.report.plots.ink import Ink
from acquire.report.plots.paper import SCREEN, Paper
from acquire.report.plots.scale import scale_over

HEIGHT = 170
LEFT, RIGHT, TOP, BOTTOM = 46, 8, 10, 24
COLUMNS = 90
MOST_DOTS = 60
MOST_MARKS = 80
MOST_LOOKED_AT = 400
_SMALL = 11.5


class Timeline:
    """A drawing from `low_x` to `high_x` with room for `ys`; what is drawn first lies below."""

    def __init__(
        self, low_x: float, high_x: float, ys: Iterable[float], height: int = HEIGHT,
        paper: Paper = SCREEN,
    ) -> None:  # fmt: skip
        self._paper = paper
        self._width = paper.width
        self._height = paper.high(height)
        self._low, self._high = low_x, max(high_x, low_x + 1e-9)
        self._scale = scale_over(ys, wanted=4)
        self._parts: list[str] = []
        self._levels: list[float] = []
        for tick, label in zip(self._scale.ticks, self._scale.labels, strict=True):
            y = self.y(tick)
            self._path(f"M{LEFT} {y:.1f}H{self._width - RIGHT:g}", Ink.LINE, 0.8)
            self._text(LEFT - 5, y + 4, label, "end")

    def x(self, value: float) -> float:
        part = (value - self._low) / (self._high - self._low)
        return LEFT + part * (self._width - LEFT - RIGHT)

    def y(self, value: float) -> float:
        inside = min(max(value, self._scale.low), self._scale.high)
        part = (inside - self._scale.low) / (self._scale.high - self._scale.low)
        return self._height - BOTTOM - part * (self._height - TOP - BOTTOM)

    def shade(self, first: float, last: float) -> None:
        """A stretch from top to bottom, such as the checks that set the limits."""
        x, end = self.x(first), self.x(last)
        self._parts.append(
            f'<path d="M{x:.1f} {TOP}H{end:.1f}V{self._height - BOTTOM:g}H{x:.1f}Z" '
            f'fill="{Ink.BAND.on_paper}"/>'
        )

    def area(self, xs: Sequence[float], lows: Sequence[float], highs: Sequence[float]) -> None:
        """What lies between two courses."""
        there = [f"{self.x(x):.1f} {self.y(y):.1f}" for x, y in zip(xs, highs, strict=True)]
        back = [f"{self.x(x):.1f} {self.y(y):.1f}" for x, y in zip(xs, lows, strict=True)]
        self._parts.append(
            f'<path d="M{"L".join(there + back[::-1])}Z" fill="{Ink.BAND.on_paper}"/>'
        )

    def level(self, value: float, ink: Ink, *, is_dashed: bool = False, width: float = 1.3) -> None:
        """A line across the drawing at a value; nothing where it lies off the scale."""
        if self._scale.holds(value):
            y = self.y(value)
            self._levels.append(y)
            self._path(f"M{LEFT} {y:.1f}H{self._width - RIGHT:g}", ink, width, is_dashed=is_dashed)

    def whisker(self, x: float, low: float, high: float, ink: Ink = Ink.TREATED) -> None:
        """An interval at a place, with end strokes; an arrow where it goes on beyond the scale."""
        at = self.x(x)
        self._path(f"M{at:.1f} {self.y(low):.1f}V{self.y(high):.1f}", ink, 1.8)
        for end in (low, high):
            if self._scale.holds(end):
                self._path(f"M{at - 4:.1f} {self.y(end):.1f}h8", ink, 1.8)
            else:
                back = 6 if end > self._scale.high else -6
                self._path(f"M{at - 4:.1f} {self.y(end) + back:.1f}l4 {-back}l4 {back}", ink, 1.8)

    def upright(self, x: float, label: str = "") -> None:
        """A line from top to bottom with a word at its head."""
        at = self.x(x)
        self._path(f"M{at:.1f} {TOP}V{self._height - BOTTOM:g}", Ink.SOFT, 1.0, is_dashed=True)
        is_right = at > self._width - 110
        anchor = "end" if is_right else "start"
        self._text(at - 4 if is_right else at + 4, self._head(), label, anchor)

    def remark(self, text: str) -> None:
        """What has to be known of the whole drawing, in its upper corner."""
        self._text(self._width - RIGHT, self._head(), text, "end", Ink.LEFT_OUT)

    def _head(self) -> float:
        """Where a word at the head stands: as high as no line across goes through it."""
        heights = (TOP + 9 + 6 * step for step in range(8))
        return next(
            (y for y in heights if not any(y - 11 < line < y + 4 for line in self._levels)),
            TOP + 9,
        )

    def course(
        self, xs: Floats, ys: Floats, ink: Ink = Ink.TREATED, *, width: float = 1.5,
        is_dashed: bool = False,
    ) -> None:  # fmt: skip
        """A line through points; each with a dot where there is room for dots."""
        if not len(ys):
            return
        has_dots = not is_dashed and len(ys) <= MOST_DOTS
        across, up = self._columns(xs, ys)
        if has_dots or not self._paper.is_screen:
            ends = [f"{x:.1f} {y:.1f}" for x, y in zip(across.tolist(), up.tolist(), strict=True)]
        else:
            # A pixel is fine enough for a line, and whole numbers are quick to write.
            pixels = np.rint((across, up)).astype(int)
            ends = [f"{x} {y}" for x, y in zip(*pixels.tolist(), strict=True)]
        self._path("M" + "L".join(ends), ink, 0.9 if has_dots else width, is_dashed=is_dashed)
        if has_dots:
            # A line without length and with round ends is a dot.
            dots = "".join(f"M{end}h0" for end in ends)
            self._parts.append(
                f'<path d="{dots}" stroke="{ink.on_paper}" stroke-width="5" '
                'stroke-linecap="round" fill="none"/>'
            )

    def crosses(self, xs: Floats, ys: Floats) -> None:
        """Marks of what stands out; of very many those that a reader can tell apart."""
        if not len(xs):
            return
        step = 1 + len(xs) // MOST_LOOKED_AT
        pixels = np.rint(self._pixels(xs[::step], ys[::step])).astype(int)
        places = list(dict.fromkeys(zip(*pixels.tolist(), strict=True)))
        if len(places) > MOST_MARKS:
            places = places[:: -(-len(places) // MOST_MARKS)]
        marks = "".join(f"M{x - 3} {y - 3}l6 6m0-6l-6 6" for x, y in places)
        self._path(marks, Ink.LEFT_OUT, 1.6)

    def foot(self, labels: Sequence[tuple[float, str]]) -> None:
        """Days below the drawing; the first and the last end within it."""
        for place, (x, label) in enumerate(labels):
            anchor = "start" if place == 0 else "end" if place == len(labels) - 1 else "middle"
            self._text(self.x(x), self._height - 7, label, anchor)

    def svg(self, title: str) -> str:
        """The drawing; `title` tells a reader who cannot see it what it shows."""
        return (
            f'<svg viewBox="0 0 {self._width:g} {self._height:g}" role="img" '
            f'aria-label="{escape(title)}">{"".join(self._parts)}</svg>'
        )

    def _pixels(self, xs: Floats, ys: Floats) -> tuple[Floats, Floats]:
        scale = self._scale
        across = LEFT + (xs - self._low) / (self._high - self._low) * (self._width - LEFT - RIGHT)
        part = (np.clip(ys, scale.low, scale.high) - scale.low) / (scale.high - scale.low)
        return across, self._height - BOTTOM - part * (self._height - TOP - BOTTOM)

    def _columns(self, xs: Floats, ys: Floats) -> tuple[Floats, Floats]:
        """Pixels of the points; of many the lowest and the highest of each column."""
        columns = self._paper.points(COLUMNS)
        if len(xs) > 2 * columns:
            # What is highest on the paper is so among the figures: few of them become pixels.
            starts = np.arange(columns) * len(xs) // columns
            high, low = np.maximum.reduceat(ys, starts), np.minimum.reduceat(ys, starts)
            xs, ys = np.repeat(xs[starts], 2), np.column_stack((high, low)).ravel()
        return self._pixels(xs, ys)

    def _path(self, d: str, ink: Ink, width: float, *, is_dashed: bool = False) -> None:
        dashes = ' stroke-dasharray="4 3"' if is_dashed else ""
        self._parts.append(
            f'<path d="{d}" stroke="{ink.on_paper}" stroke-width="{width}"{dashes} fill="none"/>'
        )

    def _text(self, x: float, y: float, text: str, anchor: str, ink: Ink = Ink.SOFT) -> None:
        if text:
            self._parts.append(
                f'<text x="{x:.1f}" y="{y:.1f}" font-size="{_SMALL}" text-anchor="{anchor}" '
                f'fill="{ink.on_paper}">{escape(text)}</text>'
            )
