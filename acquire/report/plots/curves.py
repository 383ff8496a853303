"""A film over wavelength, with the slides it was told from. Pure; any thread."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from acquire.analysis.scale import PERCENT
from acquire.analysis.transmission.definition import Vector
from acquire.analysis.transmission.pairs import Sides
from acquire.analysis.transmission.spectrum import Spectrum, mean_spectrum
from acquire.report.plots.ink import Ink
from acquire.report.plots.paper import SCREEN, Paper
from acquire.report.plots.timeline import COLUMNS, Timeline

MOST_POINTS = 2 * COLUMNS
WIDEST_NM = 60.0
"""A wider hole between two points is left open; narrower ones lie within a coarse grid."""


def film_plot(sides: Sides, title: str, paper: Paper = SCREEN, remark: str = "") -> str:
    """The film over its blank, and dashed what the slides let through bare and coated, in percent.

    `remark` stands in its corner. Where a point has no figure the line is broken.
    """
    slides = [s for slide in sides.treated for s in (slide.bare, slide.after) if s]
    x = sides.film.wavelength_nm
    shown = PERCENT * sides.film.values[sides.film.is_there]
    top = max(100.0, float(shown.max()) if shown.size else 100.0)
    plot = Timeline(float(x[0]), float(x[-1]), (0.0, top), paper=paper)
    plot.level(100.0, Ink.TEXT)
    for repeats in slides:
        _draw(plot, mean_spectrum(repeats), Ink.SOFT, paper, is_dashed=True)
    _draw(plot, sides.film, Ink.TREATED, paper, is_dashed=False)
    marks = [float(x[0]), *_round(float(x[0]), float(x[-1])), float(x[-1])]
    plot.foot([(m, f"{m:g} nm" if k in (0, len(marks) - 1) else f"{m:g}")
               for k, m in enumerate(marks)])  # fmt: skip
    plot.remark(remark)
    return plot.svg(f"{title}, percent, {x[0]:g} to {x[-1]:g} nm")


def _draw(plot: Timeline, read: Spectrum, ink: Ink, paper: Paper, *, is_dashed: bool) -> None:
    most = paper.points(MOST_POINTS)
    for part in _pieces(read):
        xs, ys = (_thinned(v[part], most) for v in (read.wavelength_nm, PERCENT * read.values))
        plot.course(xs, ys, ink, width=0.9 if is_dashed else 1.8, is_dashed=is_dashed)


def _thinned(values: Vector, most: int) -> Vector:
    """Of more points than the drawing has room for the means of neighbours, so that edges stay."""
    each = -(-values.size // most)
    starts = np.arange(0, values.size, each)
    counts = np.diff(np.append(starts, values.size))
    thinned: Vector = np.add.reduceat(values, starts) / counts
    return thinned


def _pieces(read: Spectrum) -> list[NDArray[np.intp]]:
    """The places of the points, cut where some are missing."""
    there = np.flatnonzero(read.is_there)
    if there.size == 0:
        return []
    is_cut = (np.diff(there) > 1) | (np.diff(read.wavelength_nm[there]) > WIDEST_NM)
    return [part for part in np.split(there, np.flatnonzero(is_cut) + 1) if part.size > 1]


def _round(low: float, high: float) -> list[float]:
    """Up to three whole hundreds well inside the ends."""
    inside = [
        float(m)
        for m in range(100, 3000, 100)
        if low + 0.12 * (high - low) < m < high - 0.12 * (high - low)
    ]
    step = max(1, -(-len(inside) // 3))
    return inside[::step]
