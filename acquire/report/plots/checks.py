"""The checks of one instrument on one reference piece, one below the other in their order.

Pure but for the drawing library; see `acquire.report.plots.sheet`.
"""

from __future__ import annotations

from collections.abc import Sequence

from acquire.report.plots.ink import Ink
from acquire.report.plots.paper import SCREEN, Paper
from acquire.report.plots.scale import scale_over
from acquire.report.plots.sheet import MARGIN, SMALL_PX, Shape, Sheet
from acquire.report.record.checkrecord import CheckRecord, PieceRecord
from acquire.report.words.wording import moment

STRIP = 44
_LABEL = 21

SHAPES = {
    "pass": (Shape.DOT, Ink.TREATED),
    "fail": (Shape.CROSS, Ink.LEFT_OUT),
    "undecided": (Shape.TRIANGLE, Ink.LEFT_OUT),
}
WORDS = {"pass": "passed", "fail": "failed", "undecided": "undecided"}


def checks_plot(
    name: str,
    rows: Sequence[tuple[CheckRecord, PieceRecord]],
    axis: str,
    title: str,
    paper: Paper = SCREEN,
) -> str:
    """Deviation from the certified value with its uncertainty, and the limits, as SVG."""
    values = [0.0]
    for _, piece in rows:
        deviation, u = float(piece.deviation), float(piece.expanded_uncertainty)
        values += (float(piece.limit), -float(piece.limit))
        if piece.is_judged:
            values += (deviation - u, deviation + u)
    sheet = Sheet(name, STRIP * len(rows), scale_over(values), paper)
    for index, (check, piece) in enumerate(rows):
        top = index * STRIP
        limit, deviation = float(piece.limit), float(piece.deviation)
        # Below the label, so that no line runs through it.
        start, end = top + _LABEL, top + STRIP
        sheet.band(-limit, limit, start, end)
        for edge in (-limit, limit):
            sheet.upright(edge, start, end, Ink.SOFT, is_dashed=True)
        sheet.grid(start, end)
        sheet.upright(0.0, start, end, Ink.TEXT)
        at_ns = check.judged_utc_ns or check.begun_utc_ns
        sheet.text(MARGIN, top + 16, f"Check {check.id}, {moment(at_ns)[:16]}")
        shape, ink = SHAPES[piece.outcome]
        word = WORDS[piece.outcome] if piece.is_judged else "no figures"
        sheet.text(sheet.width - MARGIN, top + 16, word, Ink.SOFT, "right", SMALL_PX)
        if piece.is_judged:
            u = float(piece.expanded_uncertainty)
            sheet.bar(deviation - u, deviation + u, top + 31, ink, 1.8)
            sheet.marks([(deviation, top + 31)], shape, ink, 8.5)
        sheet.divide(top + STRIP)
    sheet.axis(axis)
    return sheet.svg(title)
