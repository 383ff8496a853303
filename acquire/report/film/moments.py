"""What is said in captions, and when: readings, means of zones, verdicts of stages. Pure.

Made of the same readings, levels and tables as the page, so a caption says what the page says.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from acquire.analysis.figures import rounded
from acquire.model import at_channel
from acquire.report.evidence.evidence import Evidence
from acquire.report.record.checkrecord import CheckRecord
from acquire.report.record.record import ReadingRecord, Standing, TrialRecord
from acquire.report.sections.tables import TreatmentRow, treatment_tables
from acquire.report.words.wording import counted
from acquire.units import symbol
from acquire.visible import shortened, visible

_LONGEST_NAME = 32
_READING, _MEAN, _VERDICT = range(3)


class Moment(NamedTuple):
    """A line of a caption, from a moment on. `is_reading` counts it among the readings."""

    at_utc_ns: int
    rank: int
    text: str

    @property
    def is_reading(self) -> bool:
        return self.rank == _READING


class Stretch(NamedTuple):
    """What begins at a moment and lasts until the next one: a chapter."""

    at_utc_ns: int
    title: str


def moments_of(record: TrialRecord, evidence: Sequence[Evidence]) -> list[Moment]:
    """All lines in the order of their moments; a mean after its reading, a verdict after both."""
    found = [line for e in evidence for line in _of(record, e)]
    # A measure with two coefficients has the same readings in both.
    return sorted(dict.fromkeys(found), key=lambda m: (m.at_utc_ns, m.rank))


def stretches_of(record: TrialRecord, evidence: Sequence[Evidence]) -> list[Stretch]:
    """A chapter for each run and each check, in their order."""
    titles = {e.measure.id: plain(e.title) for e in reversed(evidence)}
    found = [
        Stretch(run.begun_utc_ns, plain(f"{titles.get(run.measure, run.measure)}: {run.stage}"))
        for run in record.runs
    ]
    found += [
        Stretch(check.begun_utc_ns, plain(f"Check of {check.instrument}: {_came_to(check)}"))
        for check in record.checks
    ]
    return sorted(found)


def _came_to(check: CheckRecord) -> str:
    """A check that was left without a finding decided nothing, and is not called undecided."""
    is_left = check.is_abandoned and check.outcome == "undecided"
    return "broken off" if is_left else check.outcome


def plain(text: str, most: int = 0) -> str:
    """A text on one line, in signs that can be seen, cut where it is longer than `most`."""
    line = visible(" ".join(text.split()))
    return shortened(line, most) if most else line


def _of(record: TrialRecord, evidence: Evidence) -> Iterator[Moment]:
    counting = [r for r in evidence.readings if r.standing is Standing.COUNTS]
    for r in counting:
        late = _marked(evidence.late_mark_of(r.id))
        said = f"{_where(record, r)}: {_pull(evidence)}{_value(r)}{late}"
        yield Moment(r.at_utc_ns, _READING, said)
    for level in evidence.result.levels:
        zone, stage = level.cell.zone, level.cell.stage
        own = [r for r in counting if (r.zone, r.stage) == (zone, stage)]
        mean, count, unit = level.cell.mean, len(own), evidence.result.symbol
        # One reading is its own mean; a coefficient is no reading, so it is told of one pull, too.
        if mean is None or count < max(2 if unit else 1, evidence.measure.replicates):
            continue
        last = max(own, key=lambda r: (r.at_utc_ns, r.id))
        half = None if level.budget is None else level.budget.expanded
        reach = "" if half is None else f" ± {rounded(half, half)}"
        # A coefficient has no unit to be known by, and a force stands in the readings above it.
        what = "mean" if unit else f"{'mean ' if count > 1 else ''}{evidence.what.lower()}"
        figure = f"{rounded(mean, half)}{reach}{' ' + unit if unit else ''}"
        said = f"{_where(record, last)}: {what} {figure} of {counted(count, 'reading')}"
        late = _marked(evidence.late_mark_at(zone, stage))
        yield Moment(last.at_utc_ns, _MEAN, f"{said}{late}")
    yield from _verdicts(record, evidence, counting)


def _verdicts(
    record: TrialRecord, evidence: Evidence, counting: Sequence[ReadingRecord]
) -> Iterator[Moment]:
    """Each treatment at a stage that was read whole: best first, as in the page's table."""
    stages = {evidence.named(stage): stage for stage in evidence.read_stages}
    zones = {zone.id for zone in record.plan.zones}
    for table in treatment_tables(record, evidence):
        own = [r for r in counting if r.stage == stages[table.stage]]
        if not own or not zones <= {r.zone for r in own}:
            continue
        at_ns = max(r.at_utc_ns for r in own)
        head = plain(f"{evidence.title}, {table.stage}, against the control:")
        yield Moment(at_ns, _VERDICT, head)
        for row in table.rows:
            yield Moment(at_ns, _VERDICT, _verdict(row))


def _verdict(row: TreatmentRow) -> str:
    name = plain(row.name, _LONGEST_NAME)
    if row.refusal:
        return f"{name}: {row.decision}"
    late = _marked(row.late)
    return f"{row.sign} {name}: {row.judged}, {row.reached}{late}"


def _marked(late: str) -> str:
    return f", {late}" if late else ""


def _where(record: TrialRecord, r: ReadingRecord) -> str:
    treatment = next((z.treatment for z in record.plan.zones if z.id == r.zone), "")
    name = plain(record.name_of(treatment), _LONGEST_NAME)
    return f"{plain(r.zone, _LONGEST_NAME)} · {name}{at_channel(r.channel)}"


def _pull(evidence: Evidence) -> str:
    """What the figure of a reading is, where means and verdicts are of another quantity."""
    return "pull of " if evidence.measure.sled is not None else ""


def _value(r: ReadingRecord) -> str:
    unit = symbol(r.unit)
    return f"{r.value}{' ' + unit if unit else ''}"
