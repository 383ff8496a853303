"""A cell in logarithms, so that ratios are differences.

The cell's mean m becomes ln m. A reading beside it is taken along in first order, by the
derivative 1/m: so the mean stays that of the readings, its scatter and every error of the meter
are divided by m (GUM 5.1.2 and 5.1.6), and a single reading of 0 is no obstacle. First order holds
while the mean is known well (`acquire.analysis.films.filmable` sees to that). Pure; any thread.
"""

from __future__ import annotations

import math
from dataclasses import replace

from acquire.analysis.cells.cell import Cell

DARK_PERCENT = 1e-9
"""As little or less is no light: an optical density of 11, which no head can tell from none."""


def is_dark(mean: float) -> bool:
    """Whether a mean, in percent, is too near to no light, or below it, to have a logarithm."""
    return not mean > DARK_PERCENT


def relative(cell: Cell) -> Cell:
    """The cell with ln of its mean for its mean; its `samples` stay as they were read.

    A cell without a mean, or with one that `is_dark`, has no logarithm and comes back as it is.
    """
    mean = cell.mean
    if mean is None or is_dark(mean):
        return cell
    by = 1 / mean
    summary = cell.summary
    return replace(
        cell,
        holdings=tuple(h.over(mean) for h in cell.holdings),
        summary=replace(
            summary,
            mean=math.log(mean),
            sd=None if summary.sd is None else summary.sd * by,
            deviation=None if summary.deviation is None else summary.deviation * by,
        ),
        per_unit=by,
        is_relative=True,
    )


def read_mean(cell: Cell) -> float:
    """The mean in the unit of the readings, of a cell with readings."""
    assert cell.mean is not None
    return math.exp(cell.mean) if cell.is_relative else cell.mean
