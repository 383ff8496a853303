"""Who won what, in one table: the first thing that a reader of the page sees. Pure; any thread.

Every text is one that a section below has with its reasons; nothing is decided here.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.places.standing import percent
from acquire.analysis.scoring.score import AT_LEAST
from acquire.analysis.treatments.decision import Decision
from acquire.report.answers.headline import Answer, not_whole
from acquire.report.answers.standings import standing_at
from acquire.report.evidence.evidence import Evidence
from acquire.report.record.record import TrialRecord
from acquire.report.sections.scores import ScorePart
from acquire.report.washing.washlife import NONE_FAILED, WashAnswer
from acquire.report.words.tabled import MARK, NONE
from acquire.report.words.wording import listed
from acquire.visible import shortened

_LONGEST_NAME = 60
_AGAINST_CONTROL = {
    Decision.BETTER: "better than the control",
    Decision.EQUAL: "shown equal to the control within {margin}",
    Decision.NOT_SHOWN: "not shown to differ from the control",
    Decision.WORSE: "worse than the control",
}


class GlanceRow(NamedTuple):
    """One thing that was measured, counted or reckoned; `place` is where the page has it in full.

    `figure` is of the first one, or of all that are so by points, `chance` that it is truly the
    best; both may be a dash.
    """

    what: str
    place: str
    first: str
    figure: str
    chance: str


def glance_rows(
    record: TrialRecord,
    evidence: Sequence[Evidence],
    answers: Sequence[Answer],
    washed: Sequence[WashAnswer | None],
    scores: Sequence[ScorePart],
) -> list[GlanceRow]:
    """Points first, then each measure that judges, then the lives; none where nothing is judged."""
    rows = [_of_points(part, f"points{k}") for k, part in enumerate(scores, 1) if part.rows]
    for k, (one, answer) in enumerate(zip(evidence, answers, strict=True)):
        if answer.last is not None and answer.last.verdicts:
            rows += _of_measure(record, one, answer.last.stage, f"m{k}")
    for life in washed:
        if life is not None and any(v.life for v in life.verdicts):
            lead = life.lead[0].rstrip(".")
            if NONE_FAILED in lead:
                lead = f"it cannot be told yet who lasts longest: {lead}"
            figure = MARK if life.late else NONE
            rows.append(GlanceRow(f"Wash life by {life.title}", "washlife", lead, figure, NONE))
    return rows


def _of_measure(record: TrialRecord, evidence: Evidence, stage: str, place: str) -> list[GlanceRow]:
    judged = [c for c in evidence.ranked(stage) if isinstance(c, Comparison)]
    if not judged:
        return []
    best, scale = judged[0], evidence.scale
    u = best.budget.expanded
    low, high = best.interval
    name = shortened(record.name_of(best.treatment), _LONGEST_NAME)
    found = standing_at(record, evidence, stage)
    first, chance = f"{name} alone is judged", NONE
    if found is not None:
        first = found.sentences[0].removeprefix(f"{stage}: ")
        if found.chances is not None:
            place_of = found.treatments.index(best.treatment)
            chance = f"{name} {percent(found.chances.first[place_of])}"
    first = first.rstrip(".")
    margin = evidence.result.basis.margin_text
    rests = not_whole(record, evidence, stage)
    said = _AGAINST_CONTROL.get(best.decision, "").format(margin=margin)
    return [
        GlanceRow(
            f"{evidence.title}, at {evidence.named(stage)}{f' ({rests})' if rests else ''}",
            place,
            f"{first}; {name}: {said}" if said else first,
            f"{scale.figure(best.estimate, u)}{scale.suffix} ({scale.span(low, high, u)}) "
            f"{evidence.late_mark(stage, (*best.zones, *best.control_zones))}".rstrip(),
            chance,
        )
    ]


def _of_points(part: ScorePart, place: str) -> GlanceRow:
    best = part.rows[0]
    tied = [row for row in part.rows if row.place.split(" ")[0] == "1"]
    names = listed([row.name for row in tied])
    first = f"{best.name} is first" if len(tied) == 1 else f"first together: {names}"
    # Of a tie each has figures of its own, and those of a life that goes on may lie far apart.
    figures = [f"{row.total} ({row.interval})" for row in tied] or [
        f"{best.total} ({best.interval})"
    ]
    if len(tied) > 1:
        figures = [f"{row.name}: {figure}" for row, figure in zip(tied, figures, strict=True)]
    # Beside a tie that a life may still turn stands a chance that takes the life at its least.
    least = AT_LEAST if any(AT_LEAST in note for note in part.notes) else ""
    missing = f"; without points for {best.missing}" if best.missing not in ("", NONE) else ""
    return GlanceRow(
        f"Points by {part.title}",
        place,
        f"{first}{missing}",
        "; ".join(figures),
        f"{best.name} {best.first}{least}" if best.first != NONE else NONE,
    )
