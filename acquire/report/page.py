"""The report of a trial as one page: everything inside, nothing fetched, nothing to run.

Reads the store, writes one file, whole or not at all. The same store gives the same bytes. One
thread at a time (`acquire.report.plots.sheet`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import NamedTuple

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from acquire import __version__
from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.rules.straightness import straight_lines
from acquire.cautions import cautions
from acquire.model import iso_utc
from acquire.model.scorecard import Scorecard
from acquire.report.answers.coverage import UNCHECKED, coverage
from acquire.report.answers.headline import Answer, answer, flagged, is_of_all, of_deeper
from acquire.report.answers.ranking import LeadRow
from acquire.report.answers.standings import PairRow, PlaceRow, pair_rules
from acquire.report.compiled import COMPILED
from acquire.report.evidence.bothways import BothRow, corrected_values
from acquire.report.evidence.evidence import Evidence, evidence_of
from acquire.report.evidence.toolate import late_readings
from acquire.report.files.outplace import require_place
from acquire.report.files.wholefile import whole_file
from acquire.report.plots.ink import style_rules
from acquire.report.plots.paper import SCREEN, Paper
from acquire.report.record.loading import Loader, load_trial
from acquire.report.record.record import TrialRecord
from acquire.report.sections.bands import FilmBands, film_bands
from acquire.report.sections.brackets import bracket_of_reading
from acquire.report.sections.budgets import BudgetGroup, budget_groups
from acquire.report.sections.checks import certificate_rows, channel_word, check_blocks
from acquire.report.sections.doubts import doubt_lines
from acquire.report.sections.drawings import (
    changes_gallery,
    checks_gallery,
    marks_used,
    readings_gallery,
)
from acquire.report.sections.events import MOST, events
from acquire.report.sections.facts import facts
from acquire.report.sections.gallery import Gallery
from acquire.report.sections.glance import glance_rows
from acquire.report.sections.glossary import WORDS
from acquire.report.sections.history import READING_AID, trends_gallery
from acquire.report.sections.leftouts import left_outs, value_text
from acquire.report.sections.method import MeasureMethod, measure_method, method
from acquire.report.sections.panel import panel_maps
from acquire.report.sections.pulls import pull_parts
from acquire.report.sections.ratings import ratings_part
from acquire.report.sections.runs import run_blocks
from acquire.report.sections.scores import score_parts
from acquire.report.sections.tables import (
    StageTable,
    TreatmentRow,
    ZoneRow,
    both_tables,
    lead_tables,
    pair_tables,
    place_tables,
    treatment_tables,
    zone_tables,
)
from acquire.report.sections.washlife import WashPart, wash_part
from acquire.report.sections.work import work_part
from acquire.report.washing.washlife import WashAnswer, wash_answer
from acquire.report.words.wording import moment, tied
from acquire.units import symbol
from acquire.visible import visible


class MeasurePart(NamedTuple):
    """All the page shows of one measure at one channel."""

    evidence: Evidence
    answer: Answer
    treatments: list[StageTable[TreatmentRow]]
    both: list[StageTable[BothRow]]
    leads: list[StageTable[LeadRow]]
    places: list[StageTable[PlaceRow]]
    pairs: list[StageTable[PairRow]]
    pair_rules: tuple[str, ...]
    zones: list[StageTable[ZoneRow]]
    straight: tuple[str, ...]
    readings: Gallery
    changes: Gallery
    marks: frozenset[str]
    budgets: list[BudgetGroup]
    method: MeasureMethod
    bands: FilmBands


def write_page(
    store: Path,
    trial: str,
    out: Path,
    card: Scorecard | None = None,
    load: Loader | None = None,
) -> Path:
    """Write the page; see `acquire.report.write_report`."""
    record = load(trial) if load is not None else load_trial(store, trial)
    if card is not None:
        record = replace(record, scorecards=(card,))
    require_place(out, "html", store)
    text = render(record)
    with whole_file(out) as file:
        file.write(text)
    return out


def render(record: TrialRecord, paper: Paper = SCREEN) -> str:
    """The page as text, with its drawings in the size of a paper."""
    evidence = evidence_of(record)
    washed = [wash_answer(record, e) for e in evidence]
    parts = [
        _part(record, e, f"m{k}", paper, a)
        for k, (e, a) in enumerate(zip(evidence, washed, strict=True))
    ]
    scores = score_parts(record, list(zip(evidence, washed, strict=True)))
    environment = Environment(
        loader=PackageLoader("acquire.report"),
        bytecode_cache=COMPILED,
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters |= {
        "moment": moment,
        "iso": iso_utc,
        "value": value_text,
        "bracket": partial(bracket_of_reading, record),
        "tied": tied,
        "sign": symbol,
        "drawn": Markup,
    }
    # Only what our own drawing made is taken for markup: every text in it is escaped already.
    text = environment.get_template("report.html").render(
        record=record,
        plan=record.plan,
        unchecked=UNCHECKED if record.plan.unchecked else "",
        facts=facts(record),
        coverage=coverage(record),
        flagged=flagged(evidence),
        ink_rules=Markup(style_rules()),  # noqa: S704 - our own
        channel_word=channel_word({m.quantity for m in record.plan.measures}),
        judged=any(isinstance(c, Comparison) for e in evidence for c in e.decided),
        pooled=any(is_of_all(c) for e in evidence for c in e.decided),
        deeper=of_deeper(evidence),
        panels=panel_maps(record),
        parts=parts,
        washes=_wash_parts(evidence, washed, paper),
        pulls=pull_parts(record, evidence, paper),
        ratings=ratings_part(record),
        scores=scores,
        glance=glance_rows(record, evidence, [p.answer for p in parts], washed, scores),
        work=work_part(record),
        words=WORDS,
        events=events(record),
        most_events=MOST,
        checks=check_blocks(record),
        check_outcomes={p.outcome for c in record.checks for p in c.pieces},
        certificates=certificate_rows(record),
        check_drawings=checks_gallery(record, paper),
        drifts=trends_gallery(record.histories, paper),
        trend_aid=READING_AID[0].text,
        runs=run_blocks(record),
        check_doubts=doubt_lines(record),
        left_outs=left_outs(record, evidence),
        method=method(record, evidence),
        late=late_readings(record),
        corrected=corrected_values(evidence),
        cautions=cautions({m.quantity for m in record.plan.measures}),
        version=__version__,
    )
    # Last, so that no text gets round it: signs that no page may hold (HTML Standard,
    # "Preprocessing the input stream": NUL and controls), or that would turn a line around, are
    # shown as escapes.
    return visible(text, "\t\n\r")


def _wash_parts(
    evidence: Sequence[Evidence], washed: Sequence[WashAnswer | None], paper: Paper
) -> list[WashPart]:
    return [
        wash_part(a, e.measure.end_of_life is not None, paper)
        for e, a in zip(evidence, washed, strict=True)
        if a is not None
    ]


def _part(
    record: TrialRecord, evidence: Evidence, prefix: str, paper: Paper, washed: WashAnswer | None
) -> MeasurePart:
    return MeasurePart(
        evidence,
        answer(record, evidence),
        treatment_tables(record, evidence),
        both_tables(record, evidence),
        lead_tables(record, evidence),
        place_tables(record, evidence),
        pair_tables(record, evidence),
        pair_rules(record, evidence),
        zone_tables(record, evidence),
        straight_lines(evidence.result.basis),
        readings_gallery(record, evidence, prefix, paper),
        changes_gallery(record, evidence, prefix, paper),
        marks_used(evidence),
        budget_groups(record, evidence, washed.found if washed is not None else None),
        measure_method(record, evidence),
        film_bands(record, evidence, paper),
    )
