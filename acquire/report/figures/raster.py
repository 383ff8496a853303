"""A drawing of a page as PNG: the paths, marks and texts of its SVG, painted dot by dot.

It knows what our own drawings are made of and no more: paths of straight lines and cubic curves,
marks by reference, texts. The same drawing gives the same bytes with the same drawing library. One
thread at a time, since the library's settings are the process's.
"""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Iterator, Mapping
from typing import NamedTuple
from xml.etree import ElementTree

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch
from matplotlib.path import Path

from acquire.report.figures.standalone import size_of
from acquire.report.plots.ink import Ink
from acquire.report.plots.paper import PIXEL_MM

MM_AN_INCH = 25.4
POINT_PX = 72 * PIXEL_MM / MM_AN_INCH
"""Points (1/72 inch) of a pixel of a drawing."""
MOST_DOTS = 60_000_000
"""A picture of more takes more memory than a small computer has to spare."""

_STEP = re.compile(r"([MLHVCZmlhvz])|([-+]?(?:\d+\.?\d*|\.\d+)(?:e[-+]?\d+)?)")
_TAKES = {"m": 2, "l": 2, "h": 1, "v": 1, "c": 6, "z": 0}
_ANCHORS = {"start": "left", "middle": "center", "end": "right"}
_CLOSE = int(Path.CLOSEPOLY)
_CODES = {
    "m": [int(Path.MOVETO)],
    "c": [int(Path.CURVE4)] * 3,
    **{step: [int(Path.LINETO)] for step in "lhv"},
}
_DOT = 0.01
"""A line without length has round ends, and so is a dot, only if it has a little."""
_PART = 1e-6

Style = Mapping[str, str]


class _Point(NamedTuple):
    x: float
    y: float


def dots_of(svg: str, dpi: int) -> tuple[int, int]:
    """Width and height of the picture in dots."""
    size = size_of(svg)
    return round(size.width_mm / MM_AN_INCH * dpi), round(size.height_mm / MM_AN_INCH * dpi)


def painted(svg: str, dpi: int) -> bytes:
    """The drawing as PNG with so many dots an inch. Signs that no font at hand has are boxes."""
    size = size_of(svg)
    width, height = dots_of(svg, dpi)
    figure = Figure(
        # The library leaves out a part of a dot, be it a whole one that a float made less.
        figsize=((width + _PART) / dpi, (height + _PART) / dpi),
        dpi=dpi,
        facecolor=Ink.PAPER.on_paper,
    )
    FigureCanvasAgg(figure)
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set_axis_off()
    axes.set_xlim(0, size.width)
    axes.set_ylim(size.top + size.height, size.top)
    out = io.BytesIO()
    with (
        mpl.rc_context({"font.family": ["DejaVu Sans"], "path.simplify": False}),
        warnings.catch_warnings(),
    ):
        warnings.filterwarnings("ignore", "Glyph .* missing from font")
        # Our own drawing; every text in it was escaped by us.
        _paint(axes, ElementTree.fromstring(svg))  # noqa: S314
        figure.savefig(out, format="png", dpi=dpi, metadata={"Software": None})
    return out.getvalue()


def _paint(axes: Axes, root: ElementTree.Element) -> None:
    marks: dict[str, ElementTree.Element] = {}
    for layer, element in enumerate(root.iter()):
        if element.tag == "path" and "id" in element.attrib:
            marks[element.attrib["id"]] = element
        elif element.tag == "path":
            _path(axes, element.attrib["d"], _style(element), layer)
        elif element.tag == "use":
            mark = marks[element.attrib["href"].removeprefix("#")]
            at = _Point(float(element.attrib["x"]), float(element.attrib["y"]))
            _path(axes, mark.attrib["d"], _style(element) | _style(mark), layer, at)
        elif element.tag == "text":
            style = _style(element)
            axes.text(
                float(element.attrib["x"]), float(element.attrib["y"]), element.text or "",
                fontsize=float(style["font-size"].removesuffix("px")) * POINT_PX,
                ha=_ANCHORS[style.get("text-anchor", "start")], va="baseline",
                color=style["fill"], parse_math=False, zorder=layer,
            )  # fmt: skip


def _style(element: ElementTree.Element) -> dict[str, str]:
    """What is said of an element, be it by attributes or by its style."""
    said = dict(element.attrib)
    for rule in said.pop("style", "").split(";"):
        name, _, value = rule.partition(":")
        if value:
            said[name.strip()] = value.strip()
    return said


def _path(axes: Axes, d: str, style: Style, layer: int, at: _Point = _Point(0, 0)) -> None:  # noqa: B008 - it is frozen
    points, codes = _outline(d, at)
    stroke = style.get("stroke", "none")
    is_filled = style.get("fill") != "none" and style.get("fill-opacity") != "0"
    dashes = [float(x) * POINT_PX for x in re.findall(r"[\d.]+", style.get("stroke-dasharray", ""))]
    axes.add_patch(PathPatch(
        Path(points, codes),
        facecolor=style.get("fill", Ink.TEXT.on_paper) if is_filled else "none",
        edgecolor=stroke,
        linewidth=0 if stroke == "none" else float(style.get("stroke-width", "1")) * POINT_PX,
        linestyle=(0, dashes) if dashes else "-",
        capstyle="round" if style.get("stroke-linecap") == "round" else "butt",
        joinstyle="miter" if style.get("stroke-linejoin") == "miter" else "round",
        clip_on=False,
        zorder=layer,
        # Put on whole dots a line of next to no length would have none, and no ends.
        snap=False if style.get("stroke-linecap") == "round" else None,
    ))  # fmt: skip


def _outline(d: str, at: _Point) -> tuple[list[_Point], list[int]]:
    points: list[_Point] = []
    codes: list[int] = []
    start = here = at
    for step, numbers in _steps(d):
        base = here if step.islower() else at
        kind = step.lower()
        if kind == "z":
            points.append(start)
            codes.append(_CLOSE)
            here = start
            continue
        if kind == "h":
            ends = [_Point(base.x + numbers[0], here.y)]
        elif kind == "v":
            ends = [_Point(here.x, base.y + numbers[0])]
        else:
            pairs = zip(numbers[::2], numbers[1::2], strict=True)
            ends = [_Point(base.x + x, base.y + y) for x, y in pairs]
        if kind in "lhv" and ends[-1] == here:
            ends = [_Point(here.x + _DOT, here.y)]
        here = ends[-1]
        start = here if kind == "m" else start
        points += ends
        codes += _CODES[kind]
    return points, codes


def _steps(d: str) -> Iterator[tuple[str, list[float]]]:
    """Each step of a path with its numbers; pairs behind a move are lines (SVG 1.1, 8.3.2)."""
    step = ""
    numbers: list[float] = []
    for letter, number in _STEP.findall(d):
        if letter:
            step, numbers = letter, []
            if letter in "zZ":
                yield letter, []
            continue
        numbers.append(float(number))
        if len(numbers) == _TAKES[step.lower()]:
            yield step, numbers
            step, numbers = {"m": "l", "M": "L"}.get(step, step), []
