"""Net changes against the control at one stage: a strip for each treatment, zero and margin drawn.

Pure but for the drawing library; see `acquire.report.plots.sheet`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from acquire.analysis.comparison import Comparison, Refusal
from acquire.analysis.decision import Decision
from acquire.report.plots.ink import Ink
from acquire.report.plots.scale import Scale, scale_over
from acquire.report.plots.sheet import MARGIN, SMALL_PX, WIDTH, Shape, Sheet
from acquire.report.wording import shortened

STRIP = 44
_LABEL = 21
_LONGEST_NAME = 32

SHAPES = {
    Decision.BETTER: Shape.DOT,
    Decision.WORSE: Shape.DOT,
    Decision.EQUAL: Shape.SQUARE,
    Decision.NOT_SHOWN: Shape.RING,
}


def changes_scale(comparisons: Sequence[Comparison | Refusal]) -> Scale:
    """One scale for all stages; it always holds zero and the margin."""
    values = [0.0]
    for c in comparisons:
        if isinstance(c, Comparison):
            values += c.interval
            if c.margin is not None:
                values += (-c.margin, c.margin)
    return scale_over(values)


def changes_plot(
    name: str,
    comparisons: Sequence[Comparison | Refusal],
    names: Mapping[str, str],
    scale: Scale,
    axis: str,
    title: str,
) -> str:
    """The strips of one stage as SVG; `names` gives the treatments their names."""
    height = STRIP * len(comparisons)
    sheet = Sheet(name, height, scale)
    margin = next((c.margin for c in comparisons if isinstance(c, Comparison)), None)
    for index, c in enumerate(comparisons):
        top = index * STRIP
        # Below the label, so that no line runs through a name.
        start, end = top + _LABEL, top + STRIP
        if margin is not None:
            sheet.band(-margin, margin, start, end)
            for edge in (-margin, margin):
                sheet.upright(edge, start, end, Ink.SOFT, is_dashed=True)
        sheet.grid(start, end)
        sheet.upright(0.0, start, end, Ink.TEXT)
        name_of = names.get(c.treatment, c.treatment)
        sheet.text(MARGIN, top + 16, shortened(name_of, _LONGEST_NAME))
        sheet.text(WIDTH - MARGIN, top + 16, str(c.decision), Ink.SOFT, "right", SMALL_PX)
        if isinstance(c, Comparison):
            sheet.bar(*c.interval, top + 31, Ink.TREATED)
            sheet.marks([(c.estimate, top + 31)], SHAPES[c.decision], Ink.TREATED, 8.5)
        sheet.divide(top + STRIP)
    sheet.axis(axis)
    return sheet.svg(title)
