"""What is kept of a gain over the washes, one treatment a drawing, all on one scale.

Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from acquire.analysis.durability.retention import Kept
from acquire.report.plots.ink import Ink
from acquire.report.plots.paper import SCREEN, Paper
from acquire.report.plots.timeline import Timeline

LEAST, MOST = -0.5, 1.5
"""Shares that a drawing reaches to: an interval beyond is cut off, and has an arrow there."""


def retention_heights(curves: Sequence[Sequence[Kept]]) -> tuple[float, ...]:
    """Percents that the common scale holds: nothing and all of the gain, and every interval."""
    found = [0.0, 1.0]
    for kept in curves:
        for k in kept:
            found += [x for x in (k.share, k.low, k.high) if x is not None]
    return tuple(100 * min(max(x, LEAST), MOST) for x in (min(found), max(found)))


def retention_plot(
    kept: Sequence[Kept],
    heights: Sequence[float],
    criterion: float | None,
    title: str,
    paper: Paper = SCREEN,
    remark: str = "",
) -> str:
    """The shares in percent at their counts, from all of it at 0 washes on, as SVG.

    `criterion` is the share below which a treatment counts as gone, None where there is none;
    `remark` stands in the corner.
    """
    shown = [k for k in kept if k.share is not None]
    last = max(k.count for k in kept)
    drawing = Timeline(0.0, last, heights, paper=paper)
    drawing.level(100.0, Ink.SOFT)
    if criterion is not None:
        drawing.level(100 * criterion, Ink.LEFT_OUT, is_dashed=True)
    for k in shown:
        if k.low is not None and k.high is not None:
            drawing.whisker(k.count, 100 * k.low, 100 * k.high)
    counts = np.array([0.0, *(k.count for k in shown)])
    drawing.course(counts, np.array([100.0, *(100 * (k.share or 0.0) for k in shown)]))
    drawing.foot([(0.0, "0"), *((k.count, _count(k.count, k.count == last)) for k in kept)])
    drawing.remark(remark)
    return drawing.svg(title)


def _count(count: float, is_last: bool) -> str:
    return f"{count:g} washes" if is_last else f"{count:g}"
