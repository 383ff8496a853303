"""Results as read and corrected for drift, side by side, and which of them decides.

The corrected result decides where the plan says so; where it could not be made, why not is said.
The page and the terminal say the same sentences. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.figures import rounded
from acquire.analysis.scale import Scale
from acquire.model import DriftCorrection, Measure
from acquire.report.evidence.evidence import Evidence
from acquire.report.record.record import PlanRecord, TrialRecord
from acquire.report.words.wording import counted, listed, said_moment
from acquire.settings import parse_plan
from acquire.visible import shortened

_LONGEST_NAME = 60

HOW = {
    DriftCorrection.OFFSET: "by offset",
    DriftCorrection.GAIN: "by gain",
}


class Both(NamedTuple):
    """One treatment at one stage, judged both ways; `corrected` decides."""

    name: str
    as_read: Comparison
    corrected: Comparison

    @property
    def apart(self) -> float:
        """Corrected less as read, in the terms of the comparisons."""
        return self.corrected.estimate - self.as_read.estimate

    @property
    def is_changed(self) -> bool:
        return self.as_read.decision is not self.corrected.decision


class BothRow(NamedTuple):
    """The same in finished texts."""

    name: str
    corrected: str
    corrected_u: str
    corrected_interval: str
    corrected_decision: str
    as_read: str
    as_read_u: str
    as_read_interval: str
    as_read_decision: str
    apart: str
    changes: str
    late: str = ""


def judged_both_ways(record: TrialRecord, evidence: Evidence, stage: str) -> tuple[Both, ...]:
    """Treatments with a decision either way, in the order of the corrected ones, best first."""
    if not evidence.is_corrected(stage):
        return ()
    found = []
    for c in evidence.ranked(stage):
        read = evidence.result.comparison(c.treatment, stage)
        if isinstance(c, Comparison) and isinstance(read, Comparison):
            name = shortened(record.name_of(c.treatment), _LONGEST_NAME)
            found.append(Both(name, read, c))
    return tuple(found)


def both_rows(record: TrialRecord, evidence: Evidence, stage: str) -> tuple[BothRow, ...]:
    """The table of one stage; empty where nothing of it is corrected."""
    return tuple(
        BothRow(
            both.name,
            *_figures(both.corrected, evidence),
            *_figures(both.as_read, evidence),
            _apart(both, evidence.scale),
            "changes" if both.is_changed else "the same",
            evidence.late_mark(stage, (*both.as_read.zones, *both.as_read.control_zones)),
        )
        for both in judged_both_ways(record, evidence, stage)
    )


def corrected_values(evidence: Sequence[Evidence]) -> dict[int, str]:
    """Every reading of measures that are to be corrected, by number; empty text where it is not.

    Empty where the plan wants no correction.
    """
    found: dict[int, str] = {}
    for e in evidence:
        if e.corrected is None:
            continue
        known = e.corrected.correction.readings
        step = e.result.resolution or None
        for r in e.readings:
            found[r.id] = rounded(known[r.id].value, step) if r.id in known else ""
    return found


def correction_lines(record: TrialRecord, evidence: Evidence, stage: str) -> tuple[str, ...]:
    """What is to be said of the drift correction beside the decisions of a stage.

    Empty where the plan wants none and never wanted another one with readings in view.
    """
    changed = plan_changes(record, evidence.measure)
    corrected = evidence.corrected
    if corrected is None:
        return changed
    how = HOW[corrected.correction.how]
    if not evidence.is_corrected(stage):
        why_not = corrected.correction.why_not
        stages = dict.fromkeys((evidence.result.bare, stage))
        why = listed([why_not[s] for s in stages if s in why_not])
        return (
            f"The plan wants {stage} corrected for the drift of the meter {how}, and it is not: "
            f"{why or 'it has no reading to correct'}. Corrected and uncorrected readings are "
            "never mixed, so all figures of this stage are as read.",
            *changed,
        )
    return (
        f"At {stage} the readings corrected for the drift of the meter decide, as the plan says: "
        f"{how}, in a straight line from the opening to the closing check around each reading. "
        "The readings themselves are unchanged, and what they say is beside it:",
        *(_said(both, evidence) for both in judged_both_ways(record, evidence, stage)),
        *changed,
    )


def plan_changes(record: TrialRecord, measure: Measure) -> tuple[str, ...]:
    """A sentence for each time the plan's correction was changed with readings in view."""
    if len(record.plans) < 2:
        return ()
    said = []
    before: DriftCorrection | None = None
    for version in record.plans:
        plan = parse_plan(version.text, f"trial {record.plan.id} as stored")
        planned = plan.measure(measure.id)
        now = planned.drift_correction if planned is not None else before
        taken = _taken_before(record, measure, version)
        if before is not None and now is not None and now is not before and taken:
            said.append(
                f"The plan changed the drift correction of measure {measure.id} from {before} to "
                f"{now} on {said_moment(version.at_utc_ns)}, when {counted(taken, 'reading')} of "
                f"it had been taken already: it was not chosen before the readings."
            )
        before = now
    return tuple(said)


def _taken_before(record: TrialRecord, measure: Measure, version: PlanRecord) -> int:
    earlier = {run.id for run in record.runs if run.plan_id < version.id}
    return sum(1 for r in record.readings if r.measure == measure.id and r.run_id in earlier)


def _said(both: Both, evidence: Evidence) -> str:
    corrected, read, scale = both.corrected, both.as_read, evidence.scale
    now, before = (evidence.equal_within(c.decision) for c in (corrected, read))
    decision = (
        f"the decision changes: as read it is “{before}”, corrected “{now}”"
        if both.is_changed
        else f"the decision is the same both ways: {now}"
    )
    return (
        f"{both.name}, {corrected.stage}: corrected {_net(corrected, scale)}, as read "
        f"{_net(read, scale)}; they lie {_apart(both, scale).lstrip('+−')}{scale.suffix} apart, "
        f"and {decision}."
    )


def _net(c: Comparison, scale: Scale) -> str:
    return scale.reached(c.estimate, c.budget.expanded)


def _figures(c: Comparison, evidence: Evidence) -> tuple[str, str, str, str]:
    u, scale = c.budget.expanded, evidence.scale
    return (
        scale.figure(c.estimate, u),
        scale.width(c.estimate, u),
        scale.span(*c.interval, u),
        evidence.equal_within(c.decision),
    )


def _apart(both: Both, scale: Scale) -> str:
    """To the place of the finer of both."""
    finer = min(both.corrected.budget.expanded, both.as_read.budget.expanded)
    return scale.apart(both.corrected.estimate, both.as_read.estimate, finer)
