"""Which drawings the page has, in portions that a screen and a browser can bear.

Pure but for the drawing library; see `acquire.report.plots.sheet`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TypeVar

from acquire.analysis.comparisons.comparison import Comparison, Refusal
from acquire.model import at_channel
from acquire.report.evidence.evidence import Evidence
from acquire.report.plots.changes import STRIP, changes_plot, changes_scale
from acquire.report.plots.checks import STRIP as CHECK_STRIP
from acquire.report.plots.checks import checks_plot
from acquire.report.plots.paper import SCREEN, Paper
from acquire.report.plots.readings import Row, readings_plot, readings_scale, strip_height
from acquire.report.plots.sheet import AXIS_HEIGHT
from acquire.report.record.checkrecord import CheckRecord, PieceRecord
from acquire.report.record.record import ReadingRecord, TrialRecord
from acquire.report.sections.gallery import MOST_PORTIONS, Drawing, Gallery
from acquire.report.sections.tables import levels_at
from acquire.units import symbol

T = TypeVar("T")

MOST_STRIPS = 40


def readings_gallery(
    record: TrialRecord, evidence: Evidence, prefix: str, paper: Paper = SCREEN
) -> Gallery:
    """A drawing for each stage and up to 40 zones of it."""
    scale = readings_scale(evidence)
    axis = _axis(evidence.what, evidence.result.symbol)
    here: dict[tuple[str, str], list[ReadingRecord]] = {}
    figures = {r.id: v for r in evidence.readings if (v := evidence.figure_of(r)) is not None}
    for r in evidence.readings:
        here.setdefault((r.zone, r.stage), []).append(r)
    portions: list[tuple[str, list[Row]]] = []
    for stage in evidence.result.stages:
        rows = [
            Row(
                f"{v.cell.zone} · {record.name_of(v.cell.treatment)}",
                v.cell.treatment == evidence.result.control,
                v,
                tuple(here.get((v.cell.zone, stage), ())),
                figures,
                evidence.late_ids,
            )
            for v in levels_at(evidence, stage)
        ]
        if any(row.readings for row in rows):
            heights = [strip_height(row, scale, paper) for row in rows]
            portions += [(stage, part) for part in _cut(rows, heights, paper)]
    drawings = [
        Drawing(
            _portion_title(stage, [row.level.cell.zone for row in rows], portions),
            readings_plot(f"{prefix}r{k}", rows, scale, axis,
                          f"Every reading at {stage}: {evidence.title}", paper),
        )
        for k, (stage, rows) in enumerate(_some(portions))
    ]  # fmt: skip
    return Gallery(tuple(drawings), _missing(len(portions)))


def marks_used(evidence: Evidence) -> frozenset[str]:
    """What besides plain readings is in the drawings of a measure: what its legend explains."""
    scale = readings_scale(evidence)
    values = [(r, evidence.figure_of(r)) for r in evidence.readings if not r.counts]
    left_out = [(r, v) for r, v in values if v is not None]
    inside = [r for r, v in left_out if scale.holds(v)]
    used = {str(r.standing) for r in inside} | {str(c.decision) for c in evidence.decided}
    if len(inside) < len(left_out):
        used.add("off the scale")
    if any(v.cell.flagged is not None for v in evidence.result.levels):
        used.add("stands out")
    if evidence.late:
        used.add("too late")
    return frozenset(used)


def changes_gallery(
    record: TrialRecord, evidence: Evidence, prefix: str, paper: Paper = SCREEN
) -> Gallery:
    """A drawing for each stage after the bare one and up to 40 treatments of it."""
    result = evidence.result
    names = {t.id: t.name or t.id for t in record.plan.treatments}
    scale = changes_scale(evidence.decided)
    is_ratio = evidence.scale.is_ratio
    title = "Film transmittances" if is_ratio else "Net changes"
    axis = _axis("Film over blank" if is_ratio else "Net change against the control", result.symbol)
    portions: list[tuple[str, list[Comparison | Refusal]]] = []
    remarks: dict[str, dict[str, str]] = {}
    for stage in result.stages:
        here = evidence.ranked(stage)
        if not any(isinstance(c, Comparison) for c in here):
            continue
        heights = [STRIP] * len(here)
        remarks[evidence.named(stage)] = {
            c.treatment: evidence.late_mark(stage, (*c.zones, *c.control_zones))
            for c in here
            if isinstance(c, Comparison)
        }
        portions += [(evidence.named(stage), part) for part in _cut(here, heights, paper)]
    drawings = [
        Drawing(
            _portion_title(stage, [c.treatment for c in here], portions),
            changes_plot(f"{prefix}c{k}", here, names, scale, axis,
                         f"{title} at {stage}: {evidence.title}", paper, remarks[stage]),
        )
        for k, (stage, here) in enumerate(_some(portions))
    ]  # fmt: skip
    return Gallery(tuple(drawings), _missing(len(portions)))


def checks_gallery(record: TrialRecord, paper: Paper = SCREEN) -> Gallery:
    """A drawing for each instrument, piece and channel; of many checks the latest 40, or fewer."""
    found: dict[tuple[str, str, str, str], list[tuple[CheckRecord, PieceRecord]]] = {}
    for check in record.checks:
        for piece in check.pieces:
            key = (check.instrument, check.serial, piece.piece, piece.channel)
            found.setdefault(key, []).append((check, piece))
    drawings = []
    for k, ((instrument, serial, name, channel), rows) in enumerate(_some(list(found.items()))):
        at = at_channel(channel)
        title = f"{name}{at}, read by {instrument} (serial {serial or 'unknown'})"
        most = len(_cut(rows, [CHECK_STRIP] * len(rows), paper)[0])
        if len(rows) > most:
            title += f": the last {most} of {len(rows)} checks"
        axis = _axis("Deviation from the certified value", symbol(rows[0][1].unit))
        drawings.append(Drawing(title, checks_plot(f"k{k}", rows[-most:], axis, title, paper)))
    return Gallery(tuple(drawings), _missing(len(found)))


def _cut(strips: Sequence[T], heights: Sequence[float], paper: Paper) -> list[list[T]]:
    """The strips in portions: up to 40, and no more than a paper is high where there is one."""
    room = math.inf if paper.height is None else paper.height - AXIS_HEIGHT
    found: list[list[T]] = []
    used = 0.0
    for strip, height in zip(strips, heights, strict=True):
        if not found or len(found[-1]) == MOST_STRIPS or used + height > room:
            found.append([])
            used = 0.0
        found[-1].append(strip)
        used += height
    return found


def _some(portions: Sequence[T]) -> Sequence[T]:
    return portions[:MOST_PORTIONS]


def _missing(number: int) -> str:
    if number <= MOST_PORTIONS:
        return ""
    return f"The first {MOST_PORTIONS} of {number} drawings are shown; the tables have all figures."


def _portion_title(stage: str, ids: Sequence[str], portions: Sequence[tuple[str, object]]) -> str:
    if sum(1 for s, _ in portions if s == stage) < 2:
        return stage
    return f"{stage}, {ids[0]} to {ids[-1]}"


def _axis(what: str, unit: str) -> str:
    return f"{what}, {unit}" if unit else what
