"""The page's section on pulls: the sled, what was corrected, each pull, and what is none.

Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from acquire.analysis.figures import rounded
from acquire.analysis.rules.frictionrules import effect_words, friction_rules
from acquire.report.evidence.evidence import Evidence
from acquire.report.evidence.frictions import FrictionFacts
from acquire.report.evidence.pullrows import PullRow, of_measure, pull_rows
from acquire.report.evidence.pulls import Unused
from acquire.report.plots.paper import SCREEN, Paper
from acquire.report.plots.pulls import pull_plot
from acquire.report.record.record import TrialRecord
from acquire.report.sections.gallery import Drawing, Gallery
from acquire.report.words.wording import counted, numbered

NONE = "–"
MOST_DRAWN = 6
MOST_ROWS = 400
_THIRD = 0.01
"""Coefficients and forces of single pulls are printed to the third decimal."""


class PullLine(NamedTuple):
    """One reading and its pull, in finished texts."""

    reading: str
    zone: str
    stage: str
    name: str
    note: str
    static: str = NONE
    kinetic: str = NONE
    stick_slip: str = NONE
    dwell: str = NONE
    zero: str = NONE
    place: str = NONE


class PullPart(NamedTuple):
    """All that the page shows of one measure with a sled. `lines` is empty without traces."""

    title: str
    has_traces: bool
    said: tuple[str, ...]
    effects: tuple[str, ...]
    lines: tuple[PullLine, ...]
    hidden: int
    lacking: tuple[str, ...]
    unused: tuple[str, ...]
    drawings: Gallery


def pull_parts(
    record: TrialRecord, evidence: Sequence[Evidence], paper: Paper = SCREEN
) -> list[PullPart]:
    """A part for each measure with a sled."""
    return [_part(record, measure, own, paper) for measure, own in of_measure(evidence).items()]


def pull_sentences(evidence: Sequence[Evidence]) -> tuple[str, ...]:
    """For a terminal: what is not in the results of a measure, and what dwell and order did."""
    rows = pull_rows(evidence)
    lacking = _lacking(rows)
    facts = evidence[0].friction
    assert facts is not None
    effects = _effects(facts)
    return (*lacking, *_unused(evidence[0])[:1], *effects)


def _part(
    record: TrialRecord, measure: str, evidence: Sequence[Evidence], paper: Paper
) -> PullPart:
    facts = evidence[0].friction
    assert facts is not None
    rows = pull_rows(evidence)
    names = {z.id: record.name_of(z.treatment) for z in record.plan.zones}
    said = dict.fromkeys(
        text
        for e in evidence
        if e.friction is not None
        for text in friction_rules(e.friction.friction, {})
    )
    return PullPart(
        f"Measure {measure}",
        facts.pulls is not None,
        tuple(said),
        _effects(facts),
        tuple(
            _line(row, names, evidence[0].late_mark_of(row.reading.id)) for row in rows[:MOST_ROWS]
        ),
        max(0, len(rows) - MOST_ROWS),
        _lacking(rows),
        _unused(evidence[0]),
        _gallery(rows, evidence[0], paper),
    )


def _effects(facts: FrictionFacts) -> tuple[str, ...]:
    if facts.effects is None:
        return ()
    return effect_words(facts.effects, of_traces=facts.pulls is not None)


def _line(row: PullRow, names: dict[str, str], late: str) -> PullLine:
    r, found = row.reading, row.found
    pull = None if found is None else found.pull
    note = row.lacking if pull is None else " ".join(row.remarks)
    if not r.counts:
        note = f"{r.standing}, left out. {note}".strip()
    note = f"{late}. {note}".strip() if late else note
    head = (f"{r.id}", r.zone, r.stage, names.get(r.zone, NONE), note)
    if pull is None or found is None:
        return PullLine(*head)
    first, last = found.trace.first + pull.start, found.trace.first + pull.end - 1
    return PullLine(
        *head,
        NONE if row.static is None else rounded(row.static, _THIRD),
        NONE if row.kinetic is None else rounded(row.kinetic, _THIRD),
        f"{rounded(pull.steady.peak_to_peak_n, _THIRD)}{'' if pull.steady.slips else ' (noise)'}",
        "not known" if pull.dwell_s is None else rounded(pull.dwell_s, 1.0),
        rounded(pull.zero_n, _THIRD),
        f"{found.trace.id}: {first}–{last}",
    )


def _lacking(rows: Sequence[PullRow]) -> tuple[str, ...]:
    """Readings that are in no coefficient, by reason."""
    by_reason: dict[str, list[int]] = {}
    for row in rows:
        if row.lacking:
            by_reason.setdefault(row.lacking, []).append(row.reading.id)
    return tuple(
        f"{'Reading' if len(ids) == 1 else 'Readings'} {numbered(ids)} "
        f"{'is' if len(ids) == 1 else 'are'} in no coefficient: {why}."
        for why, ids in by_reason.items()
    )


def _unused(evidence: Evidence) -> tuple[str, ...]:
    """What is in the traces and in no result."""
    facts = evidence.friction
    if facts is None or facts.pulls is None:
        return ()
    pulls = facts.pulls
    said = list(pulls.refusals)
    if pulls.unused:
        said.append(
            f"{counted(len(pulls.unused), 'rise')} of the force "
            f"{'is' if len(pulls.unused) == 1 else 'are'} no pull and in no result: "
            f"{'; '.join(_rise(u) for u in pulls.unused[:12])}"
            f"{f'; and {len(pulls.unused) - 12} more' if len(pulls.unused) > 12 else ''}."
        )
    if pulls.without_reading:
        said.append(
            f"{counted(pulls.without_reading, 'pull')} of the traces "
            f"{'has' if pulls.without_reading == 1 else 'have'} no reading, so that "
            f"{'it is' if pulls.without_reading == 1 else 'they are'} in no result."
        )
    return tuple(said)


def _rise(unused: Unused) -> str:
    r = unused.rejected
    return (
        f"trace {unused.trace.id}, samples {unused.first} to {unused.last} ({r.why}, up to "
        f"{r.largest_n:.3g} N)"
    )


def _gallery(rows: Sequence[PullRow], evidence: Evidence, paper: Paper) -> Gallery:
    """A handful: what has no pull, the highest and the lowest, and the one that sticks most."""
    there = [row for row in rows if row.found is not None]
    if not there:
        return Gallery((), "")
    good = [row for row in there if row.found is not None and row.found.pull is not None]
    chosen: dict[int, PullRow] = {}
    if good:
        ends = (
            good[0],
            max(good, key=lambda row: row.static or 0.0),
            min(good, key=lambda row: row.static or 0.0),
            max(good, key=_slip),
        )
        chosen |= {row.reading.id: row for row in ends}
    for row in there:
        if row.lacking and len(chosen) < MOST_DRAWN:
            chosen[row.reading.id] = row
    drawings = []
    for number, row in sorted(chosen.items()):
        assert row.found is not None
        title = f"Reading {number}: zone {row.reading.zone}, {row.reading.stage}"
        if row.found.pull is None:
            title += ", no pull"
        late = evidence.late_mark_of(number)
        svg = pull_plot(row.found, f"Force over time, N. {title}", paper, late)
        drawings.append(Drawing(title, svg))
    rest = len(there) - len(drawings)
    return Gallery(
        tuple(drawings),
        f"{counted(rest, 'more pull')} {'is' if rest == 1 else 'are'} in the table."
        if rest > 0
        else "",
    )


def _slip(row: PullRow) -> float:
    assert row.found is not None
    return 0.0 if row.found.pull is None else row.found.pull.steady.peak_to_peak_n
