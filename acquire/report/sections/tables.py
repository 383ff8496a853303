"""The tables of results of one measure and channel, in finished texts. Pure; any thread."""

from __future__ import annotations

import math
from typing import Generic, NamedTuple, TypeVar

from acquire.analysis.comparisons.comparison import Comparison, Refusal
from acquire.analysis.figures import probability_figure, rounded, signed
from acquire.analysis.films.film import absorbance_text, blocked_text
from acquire.analysis.scale import PERCENT
from acquire.analysis.treatments.change import Change
from acquire.analysis.treatments.decision import Decision
from acquire.analysis.treatments.level import Level
from acquire.report.answers.headline import why_none_is_judged
from acquire.report.answers.ranking import LeadRow, lead_rows
from acquire.report.answers.standings import SIGNS, PairRow, PlaceRow, pair_rows, place_rows
from acquire.report.evidence.bothways import BothRow, both_rows
from acquire.report.evidence.evidence import Evidence
from acquire.report.record.record import TrialRecord
from acquire.report.sections.brackets import treatment_bracket, zone_bracket
from acquire.report.words.wording import listed

NONE = "–"

RowT = TypeVar("RowT")


class TreatmentRow(NamedTuple):
    """One treatment at one stage against the control. A refused one has only its `refusal`.

    `reached` is net change and half width in one, with unit, for where no interval stands beside.
    `equality` is the interval that an equality was decided by, empty where there is none. `late`
    is the mark of figures that were read too late, in all rows; of zones also that of a mean of
    which presses lay out of range.
    """

    name: str
    sign: str
    decision: str
    refusal: str = ""
    zones: str = NONE
    own_change: str = NONE
    control_change: str = NONE
    net: str = NONE
    u: str = NONE
    reached: str = NONE
    equality: str = ""
    interval: str = NONE
    p: str = NONE
    visible: str = NONE
    bracket: str = NONE
    blocks: str = NONE
    absorbance: str = NONE
    late: str = ""

    @property
    def judged(self) -> str:
        """The decision with the interval that an equality was decided by."""
        return f"{self.decision} (90 %: {self.equality})" if self.equality else self.decision


class ZoneRow(NamedTuple):
    """One zone at one stage. The corrected figures stand beside those as read, with their ±."""

    zone: str
    name: str
    is_control: bool
    n: str
    mean: str
    u: str
    sd: str
    deviation: str
    change: str
    change_u: str
    against_control: str
    bracket: str = NONE
    corrected_mean: str = NONE
    corrected_change: str = NONE
    late: str = ""
    change_late: str = ""


class StageTable(NamedTuple, Generic[RowT]):
    """The rows of one stage."""

    stage: str
    rows: tuple[RowT, ...]


def treatment_tables(record: TrialRecord, evidence: Evidence) -> list[StageTable[TreatmentRow]]:
    """All treatments at each stage after the bare one that was read, best net change first."""
    tables = []
    for stage in evidence.read_stages:
        found = evidence.ranked(stage)
        why = why_none_is_judged(found)
        rows = (
            [TreatmentRow("all treatments", SIGNS[Decision.REFUSED], str(Decision.REFUSED),
                          _sentence(why))]
            if why
            else [_treatment_row(record, evidence, c) for c in found]
        )  # fmt: skip
        if rows:
            tables.append(StageTable(evidence.named(stage), tuple(rows)))
    return tables


def lead_tables(record: TrialRecord, evidence: Evidence) -> list[StageTable[LeadRow]]:
    """The best treatment of each stage against each other one."""
    tables = [StageTable(s, lead_rows(record, evidence, s)) for s in evidence.read_stages]
    return [table for table in tables if table.rows]


def place_tables(record: TrialRecord, evidence: Evidence) -> list[StageTable[PlaceRow]]:
    """Place and chances of every treatment at each stage, where two or more are judged."""
    tables = [
        StageTable(evidence.named(s), place_rows(record, evidence, s)) for s in evidence.read_stages
    ]
    return [table for table in tables if table.rows]


def pair_tables(record: TrialRecord, evidence: Evidence) -> list[StageTable[PairRow]]:
    """Every pair of treatments at each stage."""
    tables = [
        StageTable(evidence.named(s), pair_rows(record, evidence, s)) for s in evidence.read_stages
    ]
    return [table for table in tables if table.rows]


def both_tables(record: TrialRecord, evidence: Evidence) -> list[StageTable[BothRow]]:
    """The net changes of each stage as read and corrected, where they are corrected."""
    tables = [StageTable(s, both_rows(record, evidence, s)) for s in evidence.read_stages]
    return [table for table in tables if table.rows]


def zone_tables(record: TrialRecord, evidence: Evidence) -> list[StageTable[ZoneRow]]:
    """All zones at each stage that was read, the control's first."""
    changes = {(c.zone, c.stage): c for c in evidence.result.changes}
    tables = []
    for stage in evidence.read_stages:
        levels = levels_at(evidence, stage)
        controls = [
            v.cell.mean
            for v in levels
            if v.cell.treatment == evidence.result.control and v.cell.mean is not None
        ]
        control = math.fsum(controls) / len(controls) if controls else None
        rows = [
            _zone_row(record, evidence, v, changes.get((v.cell.zone, stage)), control)
            for v in levels
        ]
        tables.append(StageTable(stage, tuple(rows)))
    return tables


def levels_at(evidence: Evidence, stage: str) -> list[Level]:
    """The levels of one stage, the control's zones first, else in the order of the plan."""
    control = evidence.result.control
    here = [v for v in evidence.result.levels if v.cell.stage == stage]
    return sorted(here, key=lambda v: v.cell.treatment != control)


def _treatment_row(
    record: TrialRecord, evidence: Evidence, c: Comparison | Refusal
) -> TreatmentRow:
    name, sign = record.name_of(c.treatment), SIGNS[c.decision]
    decision = evidence.equal_within(c.decision)
    if isinstance(c, Refusal):
        return TreatmentRow(name, sign, decision, _sentence(c.reason))
    u, scale = c.budget.expanded, evidence.scale
    equality = ""
    if c.decision is Decision.EQUAL:
        margins = () if c.margin is None else (-c.margin, c.margin)
        equality = scale.span(*c.equality_interval, u, margins)
    return TreatmentRow(
        name=name,
        sign=sign,
        decision=decision,
        zones=listed(c.zones),
        own_change=_side(c.treated_change, u, evidence),
        control_change=_side(c.control_change, u, evidence),
        net=scale.figure(c.estimate, u),
        u=scale.width(c.estimate, u),
        reached=scale.reached(c.estimate, u),
        equality=equality,
        interval=scale.span(*c.interval, u),
        p=probability_figure(c.p),
        visible=scale.seen(c.smallest_visible, u, c.estimate),
        bracket=treatment_bracket(record, evidence, (*c.zones, *c.control_zones), c.stage),
        blocks=NONE if c.film is None else blocked_text(c.film, u),
        absorbance=NONE if c.film is None else absorbance_text(c.film, u) or NONE,
        late=evidence.late_mark(c.stage, (*c.zones, *c.control_zones)),
    )


def _side(value: float, u: float, evidence: Evidence) -> str:
    """What one side did: its change, its ratio to itself when bare, or its slides' own mean."""
    if evidence.result.basis.blanks is not None:
        value -= math.log(PERCENT)
    return evidence.scale.figure(value, u)


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."


def _zone_row(
    record: TrialRecord,
    evidence: Evidence,
    level: Level,
    change: Change | None,
    control: float | None,
) -> ZoneRow:
    """`control` is the mean of the control zones at the same stage."""
    cell, result = level.cell, evidence.result
    name, is_control = record.name_of(cell.treatment), cell.treatment == result.control
    planned = evidence.measure.replicates
    n = f"{cell.n}" if cell.n >= planned else f"{cell.n} of {planned}"
    if cell.mean is None or cell.summary.deviation is None:
        late = evidence.mean_mark(cell.zone, cell.stage)
        return ZoneRow(cell.zone, name, is_control, n, *[NONE] * 7)._replace(late=late)
    place = level.budget.expanded if level.budget is not None else result.resolution
    change_u = change.budget.expanded if change is not None and change.budget is not None else None
    return ZoneRow(
        zone=cell.zone,
        name=name,
        is_control=is_control,
        n=n,
        mean=rounded(cell.mean, place),
        u=NONE if level.budget is None else rounded(place, place),
        sd=NONE if cell.summary.sd is None else rounded(cell.summary.sd, cell.summary.sd),
        deviation=signed(cell.summary.deviation, result.resolution),
        change=NONE
        if change is None or change.estimate is None
        else _changed(evidence, change.estimate, change_u),
        change_u=NONE
        if change_u is None or change is None or change.estimate is None
        else evidence.scale.width(change.estimate, change_u),
        against_control=NONE
        if is_control or control is None
        else _against(evidence, cell.mean, control, place),
        bracket=zone_bracket(record, evidence, cell.zone, cell.stage),
        corrected_mean=_corrected_mean(evidence, cell.zone, cell.stage),
        corrected_change=_corrected_change(evidence, cell.zone, cell.stage),
        late=evidence.mean_mark(cell.zone, cell.stage),
        change_late=evidence.change_mark(cell.stage, cell.zone),
    )


def _changed(evidence: Evidence, change: float, u: float | None) -> str:
    scale = evidence.scale
    return scale.figure(change, u or (None if scale.is_ratio else evidence.result.resolution))


def _against(evidence: Evidence, mean: float, control: float, place: float) -> str:
    """Less the mean of the control zones; of a transmittance over it."""
    if not evidence.scale.is_ratio:
        return signed(mean - control, place)
    if not (mean > 0 and control > 0):
        return NONE
    return evidence.scale.figure(math.log(mean / control), place / mean)


def _corrected_mean(evidence: Evidence, zone: str, stage: str) -> str:
    result = evidence.corrected.result if evidence.corrected is not None else None
    level = result.level(zone, stage) if result is not None else None
    if level is None or level.cell.mean is None:
        return NONE
    if level.budget is None:
        return rounded(level.cell.mean, evidence.result.resolution)
    u = level.budget.expanded
    return f"{rounded(level.cell.mean, u)} ± {rounded(u, u)}"


def _corrected_change(evidence: Evidence, zone: str, stage: str) -> str:
    result = evidence.corrected.result if evidence.corrected is not None else None
    changes = result.changes if result is not None else ()
    change = next((c for c in changes if (c.zone, c.stage) == (zone, stage)), None)
    if change is None or change.estimate is None:
        return NONE
    if change.budget is None:
        return _changed(evidence, change.estimate, None)
    u, scale = change.budget.expanded, evidence.scale
    return f"{scale.figure(change.estimate, u)} ± {scale.width(change.estimate, u)}"
