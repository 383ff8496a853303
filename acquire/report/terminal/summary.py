"""The results of a trial in plain lines for a terminal.

Reads the store and writes nothing. Any thread.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from acquire.analysis.rules.straightness import straight_lines
from acquire.report.answers.blindness import blinding_words
from acquire.report.answers.coverage import UNCHECKED, coverage
from acquire.report.answers.headline import answer, flagged
from acquire.report.answers.ratings import rating_lines, ratings_of
from acquire.report.evidence.evidence import Evidence, evidence_of
from acquire.report.evidence.pullrows import of_measure
from acquire.report.record.loading import load_trial
from acquire.report.record.record import TrialRecord
from acquire.report.sections.pulls import pull_sentences
from acquire.report.washing.washlife import wash_answer, wash_lines
from acquire.report.washing.waterlives import life_lines, water_lives

_MOST_VERDICTS = 12


def lines_of(store: Path, trial: str) -> list[str]:
    """Title, decisions with their figures, and what they rest on; a line each, unwrapped.

    An empty line separates the parts. Raises as `acquire.report.record.loading.load_trial`.
    """
    record = load_trial(store, trial)
    return list(lines_of_record(record, evidence_of(record)))


def title_lines(record: TrialRecord) -> Iterator[str]:
    """Which trial it is, and what has to be known before any of its results."""
    if record.misfit:
        yield record.misfit
    yield f"{record.plan.title} (trial {record.plan.id})"
    if record.plan.unchecked:
        yield UNCHECKED
    yield from blinding_words(record)


def lines_of_record(record: TrialRecord, evidence: tuple[Evidence, ...]) -> Iterator[str]:
    """The same of a record that is loaded already."""
    yield from title_lines(record)
    for one in evidence:
        found = answer(record, one)
        yield ""
        yield f"{one.what} (measure {one.measure.id})"
        if found.last is None:
            yield f"  {found.nothing}"
            continue
        for line in (*found.last.best, found.last.lead):
            yield f"  {line}"
        for line in found.last.correction:
            yield f"  {line}"
        for verdict in found.last.verdicts[:_MOST_VERDICTS]:
            yield f"  {verdict.sign} {verdict.sentence}"
        hidden = len(found.last.verdicts) - _MOST_VERDICTS
        if hidden > 0:
            yield f"  … and {hidden} more treatments: see the report"
        for earlier in found.earlier:
            yield f"  {earlier.lead}"
        for line in straight_lines(one.result.basis):
            yield f"  {line}"
    for one in evidence:
        washed = wash_answer(record, one)
        if washed is not None:
            yield ""
            yield f"Wash life by {_lower(one.what)} (measure {one.measure.id})"
            yield from (f"  {line}" for line in wash_lines(washed))
    for lives in water_lives(record):
        yield ""
        yield f"Wash life by {_lower(lives.scale.name)} (scale {lives.scale.id})"
        yield from (f"  {line}" for line in life_lines(lives))
    for rated in ratings_of(record):
        yield ""
        yield f"{rated.title} (scale {rated.scale.id})"
        yield from (f"  {line}" for line in rating_lines(rated))
    for own in of_measure(evidence).values():
        said = pull_sentences(own)
        if said:
            yield ""
            yield f"Pulls (measure {own[0].measure.id})"
            yield from (f"  {line}" for line in said)
    yield ""
    yield from coverage(record)
    outstanding = flagged(evidence)
    if outstanding:
        yield outstanding
    yield "Results describe the tested specimens under the tested conditions."


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]
