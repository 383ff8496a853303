"""Every single reading of one stage, a strip for each zone: readings above, mean below.

Pure but for the drawing library; see `acquire.report.plots.sheet`.
"""

from __future__ import annotations

import textwrap
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from acquire.analysis.treatments.level import Level
from acquire.report.evidence.evidence import Evidence
from acquire.report.plots.ink import Ink
from acquire.report.plots.paper import SCREEN, Paper
from acquire.report.plots.scale import Scale, scale_over
from acquire.report.plots.sheet import MARGIN, SMALL_PX, Shape, Sheet
from acquire.report.record.record import ReadingRecord, Standing
from acquire.report.words.tabled import MARK
from acquire.report.words.wording import numbered
from acquire.visible import shortened

STRIP = 54
_LONGEST_NAME = 30
_LONGEST_REMARK = 24
"""Longer ones stand below the name, in as many lines as they take."""
_LINE = 54
_LINE_PX = 15


@dataclass(frozen=True, slots=True)
class Row:
    """One zone at the stage: its level and all its readings, left-out ones included.

    `figures` has by number what each reading is in the terms of the results, where it has a figure;
    `late` are those that were taken when that surface was gone.
    """

    label: str
    is_control: bool
    level: Level
    readings: tuple[ReadingRecord, ...]
    figures: Mapping[int, float]
    late: Collection[int] = ()


def readings_scale(evidence: Evidence) -> Scale:
    """One scale for all stages of a measure, so that strips can be compared across stages.

    Voids and suspects that lie far off are shown at its end instead of squeezing the rest.
    """
    values: list[float] = []
    for level in evidence.result.levels:
        values += [s.value for s in level.cell.samples]
        if level.cell.mean is not None and level.budget is not None:
            values += [level.cell.mean - level.budget.expanded,
                       level.cell.mean + level.budget.expanded]  # fmt: skip
    others = [
        v for r in evidence.readings if not r.counts and (v := evidence.figure_of(r)) is not None
    ]
    if not values:
        values = others
    elif others:
        room = max(max(values) - min(values), 10 * evidence.result.resolution)
        values += [v for v in others if min(values) - room <= v <= max(values) + room]
    return scale_over(values, least_width=5 * evidence.result.resolution)


def strip_height(row: Row, scale: Scale, paper: Paper = SCREEN) -> int:
    """How high the strip of a zone is, in pixels: a longer remark stands in lines of its own."""
    # One short line has room beside the name.
    return STRIP + _LINE_PX * _below(_lines(_remark(row, scale), paper))


def readings_plot(
    name: str,
    rows: Sequence[Row],
    scale: Scale,
    axis: str,
    title: str,
    paper: Paper = SCREEN,
) -> str:
    """The strips of one stage as SVG."""
    remarks = [_lines(_remark(row, scale), paper) for row in rows]
    heights = [strip_height(row, scale, paper) for row in rows]
    sheet = Sheet(name, sum(heights), scale, paper)
    top = 0
    for row, lines, height in zip(rows, remarks, heights, strict=True):
        _strip(sheet, row, lines, top, scale, paper)
        top += height
        sheet.divide(top)
    sheet.axis(axis)
    return sheet.svg(title)


def _lines(remark: str, paper: Paper) -> list[str]:
    width = paper.letters(_LINE)
    return textwrap.wrap(remark, width, break_long_words=False, break_on_hyphens=False)


def _below(lines: Sequence[str]) -> int:
    """How many lines of a remark stand below the name."""
    return 0 if len(lines) < 2 and len("".join(lines)) <= _LONGEST_REMARK else len(lines)


def _strip(
    sheet: Sheet, row: Row, lines: Sequence[str], top: float, scale: Scale, paper: Paper
) -> None:
    ink = Ink.CONTROL if row.is_control else Ink.TREATED
    label = shortened(row.label, paper.letters(_LONGEST_NAME))
    sheet.text(MARGIN, top + 16, label)
    below = _below(lines)
    if not below:
        sheet.text(sheet.width - MARGIN, top + 16, "".join(lines), Ink.LEFT_OUT, "right", SMALL_PX)
    for k in range(below):
        sheet.text(MARGIN, top + 16 + _LINE_PX * (k + 1), lines[k], Ink.LEFT_OUT, size=SMALL_PX)
    top += _LINE_PX * below
    sheet.grid(top + 22, top + STRIP)
    order = {r.id: k for k, r in enumerate(row.readings)}

    def y(reading: ReadingRecord) -> float:
        # One below the other in the order they were taken, so that equal readings stay apart.
        steps = max(len(row.readings) - 1, 1)
        return top + 24 + 11 * order[reading.id] / steps

    flagged = row.level.cell.flagged
    counting = [(row.figures[r.id], y(r)) for r in row.readings if r.counts and r.id in row.figures]
    # By shape as well as by colour: a print in grey must tell the control, too.
    shape = Shape.SMALL_RING if row.is_control else Shape.DOT
    sheet.marks(counting, shape, ink, 5.5)
    for reading in row.readings:
        value = row.figures.get(reading.id)
        if value is None:
            continue
        if flagged is not None and reading.id == flagged.reading_id:
            sheet.marks([(value, y(reading))], Shape.RING, Ink.LEFT_OUT, 11)
        if reading.counts:
            continue
        if value < scale.low:
            sheet.marks([(value, y(reading))], Shape.LEFT_EDGE, Ink.LEFT_OUT, 7)
        elif value > scale.high:
            sheet.marks([(value, y(reading))], Shape.RIGHT_EDGE, Ink.LEFT_OUT, 7)
        else:
            shape = Shape.TRIANGLE if reading.standing is Standing.SUSPECT else Shape.CROSS
            sheet.marks([(value, y(reading))], shape, Ink.LEFT_OUT, 6.5)
    mean, budget = row.level.cell.mean, row.level.budget
    if mean is None:
        if not row.readings:
            sheet.text(MARGIN, top + 36, "not read", Ink.SOFT, size=SMALL_PX)
        return
    if budget is not None:
        sheet.bar(mean - budget.expanded, mean + budget.expanded, top + 44, Ink.TEXT, 1.6)
    sheet.marks([(mean, top + 44)], Shape.DIAMOND, Ink.TEXT, 6.5)


def _remark(row: Row, scale: Scale) -> str:
    """The numbers of the readings that were too late, are left out or stand out."""
    late = [r.id for r in row.readings if r.id in row.late]
    parts = [f"{MARK} {numbered(late)}"] if late else []
    for standing in (Standing.VOID, Standing.SUSPECT, Standing.UNPLACED, Standing.IMPOSSIBLE):
        ids = [r.id for r in row.readings if r.standing is standing]
        if ids:
            parts.append(f"{standing} {numbered(ids)}")
            off = [
                r
                for r in row.readings
                if r.standing is standing and r.id in row.figures
                and not scale.holds(row.figures[r.id])
            ]  # fmt: skip
            if len(off) == 1:
                parts[-1] += f" ({off[0].value})"
    if row.level.cell.flagged is not None:
        parts.append(f"stands out {row.level.cell.flagged.reading_id}")
    return ", ".join(parts)
