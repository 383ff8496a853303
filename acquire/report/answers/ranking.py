"""Who came out best at a stage, by how much, and against whom that is shown. Pure; any thread."""

from __future__ import annotations

from typing import NamedTuple

from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.comparisons.leading import Lead
from acquire.analysis.figures import rounded
from acquire.analysis.scale import Scale
from acquire.analysis.treatments.decision import Decision
from acquire.report.answers.standings import late_of, standing_at, standing_lines
from acquire.report.evidence.evidence import Evidence
from acquire.report.record.record import TrialRecord
from acquire.report.words.wording import listed
from acquire.visible import shortened

_LONGEST_NAME = 60
_MOST_FIGURES = 3
"""Treatments that the best one is not shown to beat are named with figures up to this number."""

_AGAINST_CONTROL = {
    Decision.BETTER: "",
    Decision.WORSE: ", and is worse than the control all the same",
    Decision.EQUAL: ", and is shown equal to the control within {margin} all the same",
    Decision.NOT_SHOWN: ", and is not shown to differ from the control",
}


class LeadRow(NamedTuple):
    """The best treatment of a stage against one other, in finished texts."""

    leader: str
    rival: str
    ahead: str
    u: str
    interval: str
    decision: str
    late: str = ""


def ranking(record: TrialRecord, evidence: Evidence, stage: str) -> tuple[str, ...]:
    """Sentences: the best net change, whom it is shown to beat, who is first and how likely.

    Empty where fewer than two treatments are judged.
    """
    judged = [c for c in evidence.ranked(stage) if isinstance(c, Comparison)]
    if len(judged) < 2:
        return ()
    best = judged[0]
    scale, u = evidence.scale, best.budget.expanded
    unit = scale.suffix
    low, high = best.interval
    gained = (best.estimate > 0) == evidence.measure.higher_is_better and best.estimate != 0
    figure, span = scale.figure(best.estimate, u), scale.span(low, high, u)
    late = evidence.late_mark(stage, (*best.zones, *best.control_zones))
    figure = f"{late} {figure}".strip()
    against = _AGAINST_CONTROL[best.decision].format(margin=evidence.result.basis.margin_text)
    if best.film is not None:
        reverse = "most" if evidence.measure.higher_is_better else "least"
        way = f"lets the {reverse} light through of what its blank lets through"
        return (
            f"At {evidence.named(stage)}{',' * evidence.is_corrected(stage)} "
            f"{_name(record, best.treatment)} {way}, in {scale.what}: {figure}{unit} "
            f"(95 % interval {span}{unit}){against}.",
            *_held(record, evidence, stage),
        )
    way = (
        "has the net change that is nearest to the better side"
        if not gained
        else "gained most against the control"
        if evidence.measure.higher_is_better
        else "fell most against the control, and lower is better"
    )
    first = (
        f"At {evidence.named(stage)}{',' * evidence.is_corrected(stage)} "
        f"{_name(record, best.treatment)} {way}: {figure}{unit} (95 % interval {span}{unit})"
        f"{against}."
    )
    return (first, *_held(record, evidence, stage))


def lead_rows(record: TrialRecord, evidence: Evidence, stage: str) -> tuple[LeadRow, ...]:
    """The best of a stage against each other one, nearest first."""
    return tuple(
        LeadRow(
            record.name_of(x.leader),
            record.name_of(x.rival),
            _ahead(x, evidence.scale),
            "–" if x.lacking else evidence.scale.width(_lead(x, evidence.scale), x.reach),
            "–" if x.lacking else _interval(x, evidence),
            f"no decision, because {x.lacking}"
            if x.lacking
            else "ahead"
            if x.decision is Decision.BETTER
            else evidence.equal_within(x.decision),
            late_of(record, evidence, stage, (x.leader, x.rival)),
        )
        for x in evidence.leads(stage)
    )


def _held(record: TrialRecord, evidence: Evidence, stage: str) -> tuple[str, ...]:
    """The best against the others, and who is first."""
    leads = evidence.leads(stage)
    first = standing_lines(record, evidence, stage)
    found = standing_at(record, evidence, stage)
    is_told = found is not None and found.chances is not None
    if is_told and all(x.decision is Decision.BETTER for x in leads):
        # That it is first, shown to be ahead of all others, is the next line.
        return first
    return (*_beaten(record, leads, evidence), *first)


def _beaten(record: TrialRecord, leads: tuple[Lead, ...], evidence: Evidence) -> list[str]:
    scale, margin = evidence.scale, evidence.result.basis.margin_text
    unit = scale.suffix
    names = {d: [_name(record, x.rival) for x in leads if x.decision is d] for d in Decision}
    said = []
    if names[Decision.BETTER]:
        said.append(f"It is shown to be ahead of {listed(names[Decision.BETTER])} as well.")
    if names[Decision.EQUAL]:
        said.append(
            f"From {listed(names[Decision.EQUAL])} it differs by less than the plan's margin of "
            f"{margin}."
        )
    near = [x for x in leads if x.decision is Decision.NOT_SHOWN]
    if near:
        figures = [
            f"{_name(record, x.rival)}: {_by(x, scale)}, 95 % interval "
            f"{_interval(x, evidence)}{unit}"
            for x in near[:_MOST_FIGURES]
        ]
        rest = len(near) - len(figures)
        more = f"; and {rest} more, see the tables" if rest else ""
        said.append(f"Not shown to be ahead of {'; of '.join(figures)}{more}.")
    if names[Decision.REFUSED]:
        said.append(f"It cannot be held against {listed(names[Decision.REFUSED])}.")
    return said


def _lead(lead: Lead, scale: Scale) -> float:
    """The lead, better upwards; of films the leader's over the rival's as it is."""
    return lead.pair.estimate if scale.is_ratio else lead.ahead


def _ahead(lead: Lead, scale: Scale) -> str:
    u = None if lead.lacking else lead.reach
    return scale.figure(_lead(lead, scale), u) if scale.is_ratio else rounded(lead.ahead, u)


def _by(lead: Lead, scale: Scale) -> str:
    """The lead behind the name of the rival, better upwards."""
    if scale.is_ratio:
        return f"it lets through {_ahead(lead, scale)}{scale.suffix} of what that film does"
    return f"the difference is {_ahead(lead, scale)}{scale.suffix}"


def _interval(lead: Lead, evidence: Evidence) -> str:
    middle, basis = _lead(lead, evidence.scale), evidence.result.basis
    ends = (middle - lead.reach, middle + lead.reach)
    return basis.scale.span(*ends, lead.reach, basis.held_against)


def _name(record: TrialRecord, treatment: str) -> str:
    return shortened(record.name_of(treatment), _LONGEST_NAME)
