"""Net changes against the control at one stage: a strip for each treatment, zero and margin drawn.

Pure but for the drawing library; see `acquire.report.plots.sheet`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from acquire.analysis.comparisons.comparison import Comparison, Refusal
from acquire.analysis.scale import PERCENT
from acquire.analysis.treatments.decision import Decision
from acquire.report.plots.ink import Ink
from acquire.report.plots.paper import SCREEN, Paper
from acquire.report.plots.scale import Scale, scale_over
from acquire.report.plots.sheet import MARGIN, SMALL_PX, Shape, Sheet
from acquire.visible import shortened

STRIP = 44
_LABEL = 21
_LONGEST_NAME = 32

SHAPES = {
    Decision.BETTER: Shape.DOT,
    Decision.WORSE: Shape.DOT,
    Decision.EQUAL: Shape.SQUARE,
    Decision.NOT_SHOWN: Shape.RING,
}


def drawn(c: Comparison, value: float) -> float:
    """Where a figure of a comparison is drawn: of a film the ratio in percent, else as it is."""
    return value if c.film is None else PERCENT * math.exp(value)


def changes_scale(comparisons: Sequence[Comparison | Refusal]) -> Scale:
    """One scale for all stages; it always holds the line of no change and the margin."""
    judged = [c for c in comparisons if isinstance(c, Comparison)]
    values = [drawn(c, 0.0) for c in judged] or [0.0]
    for c in judged:
        values += [drawn(c, end) for end in c.interval]
        if c.margin is not None:
            values += (drawn(c, -c.margin), drawn(c, c.margin))
    return scale_over(values)


def changes_plot(
    name: str,
    comparisons: Sequence[Comparison | Refusal],
    names: Mapping[str, str],
    scale: Scale,
    axis: str,
    title: str,
    paper: Paper = SCREEN,
    remarks: Mapping[str, str] | None = None,
) -> str:
    """The strips of one stage as SVG; `names` gives the treatments their names.

    `remarks` has by treatment what must stand beside its figure.
    """
    height = STRIP * len(comparisons)
    sheet = Sheet(name, height, scale, paper)
    first = next((c for c in comparisons if isinstance(c, Comparison)), None)
    margin = first.margin if first is not None else None
    edges = [] if first is None or margin is None else [drawn(first, s * margin) for s in (-1, 1)]
    nothing = 0.0 if first is None else drawn(first, 0.0)
    for index, c in enumerate(comparisons):
        top = index * STRIP
        # Below the label, so that no line runs through a name.
        start, end = top + _LABEL, top + STRIP
        if edges:
            sheet.band(edges[0], edges[1], start, end)
            for edge in edges:
                sheet.upright(edge, start, end, Ink.SOFT, is_dashed=True)
        sheet.grid(start, end)
        sheet.upright(nothing, start, end, Ink.TEXT)
        name_of = names.get(c.treatment, c.treatment)
        sheet.text(MARGIN, top + 16, shortened(name_of, paper.letters(_LONGEST_NAME)))
        said, ink = str(c.decision), Ink.SOFT
        if remark := (remarks or {}).get(c.treatment):
            said, ink = f"{remark}, {said}", Ink.LEFT_OUT
        sheet.text(sheet.width - MARGIN, top + 16, said, ink, "right", SMALL_PX)
        if isinstance(c, Comparison):
            low, high = c.interval
            sheet.bar(drawn(c, low), drawn(c, high), top + 31, Ink.TREATED)
            sheet.marks([(drawn(c, c.estimate), top + 31)], SHAPES[c.decision], Ink.TREATED, 8.5)
        sheet.divide(top + STRIP)
    sheet.axis(axis)
    return sheet.svg(title)
