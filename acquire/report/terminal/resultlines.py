"""All results of a trial as tables for a terminal, and its budgets checked, in plain lines.

Reads the store and writes nothing. Any thread.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from acquire.analysis.budgetproof import proof_of
from acquire.analysis.comparisons.comparison import Comparison
from acquire.report.answers.headline import why_none_is_judged
from acquire.report.evidence.evidence import evidence_of
from acquire.report.record.loading import Loader, load_trial
from acquire.report.sections.pulls import pull_parts
from acquire.report.sections.tables import pair_tables, place_tables, treatment_tables
from acquire.report.terminal.summary import lines_of_record
from acquire.report.words.wording import counted

Cells = tuple[str, ...]

_TREATMENTS = ("TREATMENT", "DECISION", "NET CHANGE", "± 95 %", "95 % INTERVAL", "VISIBLE")
_FILMS = (*_TREATMENTS[:2], "FILM / BLANK", *_TREATMENTS[3:])
_PLACES = ("TREATMENT", "PLACE", "FIRST", "LIKELY PLACES", "SHOWN AHEAD OF")
_PAIRS = ("TREATMENT", "AGAINST", "DIFFERENCE", "± 95 %", "95 % INTERVAL", "VISIBLE", "DECISION")
_FILM_PAIRS = (*_PAIRS[:2], "FILM / FILM", *_PAIRS[3:])
_PULLS = ("READING", "ZONE", "STAGE", "STATIC", "KINETIC", "PEAK TO PEAK, N", "DWELL, S", "REMARK")


class Table(NamedTuple):
    """A heading, and rows of which the first has the names of the columns."""

    title: str
    rows: tuple[Cells, ...]


class Told(NamedTuple):
    """The summary in lines, and the tables of every measure, channel and stage."""

    lines: tuple[str, ...]
    tables: tuple[Table, ...]


def told(store: Path, trial: str, load: Loader | None = None) -> Told:
    """All results of a trial, by `load` where whoever asks wants the trial, too.

    Raises as `acquire.report.record.loading.load_trial`.
    """
    record = load(trial) if load is not None else load_trial(store, trial)
    evidence = evidence_of(record)
    tables: list[Table] = []
    for one in evidence:
        unit = f", {one.result.symbol}" if one.result.symbol else ""
        for against in treatment_tables(record, one):
            rows = tuple(
                (r.name, f"no decision: {r.refusal}", *[""] * 4)
                if r.refusal
                else (
                    r.name,
                    f"{r.sign} {r.judged}",
                    f"{r.late} {r.net}".strip(),
                    r.u,
                    r.interval,
                    r.visible,
                )
                for r in against.rows
            )
            title = f"{one.title} at {against.stage}: against the control{unit}"
            head = _FILMS if one.scale.is_ratio else _TREATMENTS
            tables.append(Table(title, (head, *rows)))
        for places in place_tables(record, one):
            of_place = tuple((r.name, r.place, r.first, r.likely, r.ahead_of) for r in places.rows)
            title = f"{one.title} at {places.stage}: places and chances"
            tables.append(Table(title, (_PLACES, *of_place)))
        for pairs in pair_tables(record, one):
            of_pair = tuple(
                (r.first, r.second, f"{r.late} {r.difference}".strip(), r.u, r.interval, r.visible,
                 f"{r.sign} {r.decision}")
                for r in pairs.rows
            )  # fmt: skip
            title = f"{one.title} at {pairs.stage}: each against each other{unit}"
            tables.append(Table(title, (_FILM_PAIRS if one.scale.is_ratio else _PAIRS, *of_pair)))
    tables += [
        Table(f"{part.title}: pulls", (_PULLS, *(
            (r.reading, r.zone, r.stage, r.static, r.kinetic, r.stick_slip, r.dwell, r.note)
            for r in part.lines
        )))
        for part in pull_parts(record, evidence)
        if part.lines
    ]  # fmt: skip
    return Told(tuple(lines_of_record(record, evidence)), tuple(tables))


class Checked(NamedTuple):
    """What the check of the budgets found, in lines, and whether all of them hold."""

    lines: tuple[str, ...]
    holds: bool


def check_budgets(store: Path, trial: str, load: Loader | None = None) -> Checked:
    """Check the budget of every net change that decides. Loads and raises as `told`."""
    record = load(trial) if load is not None else load_trial(store, trial)
    lines: list[str] = []
    good = bad = 0
    for one in evidence_of(record):
        for stage in one.read_stages:
            found = one.ranked(stage)
            for c in found:
                if not isinstance(c, Comparison):
                    continue
                proof = proof_of(c, one.deciding(stage))
                good, bad = good + proof.holds, bad + (not proof.holds)
                what = f"{one.title}, {record.name_of(c.treatment)}, {one.named(stage)}"
                lines += [f"{'holds' if proof.holds else 'DOES NOT HOLD'}  {what}"]
                lines += [f"  {said}" for said in (*proof.sentences, proof.table.sentence)]
            if why := why_none_is_judged(found):
                lines.append(f"no budget  {one.title}, {stage}: {why}")
    return Checked((*lines, *_sum(good, bad)), bad == 0)


def _sum(good: int, bad: int) -> Iterator[str]:
    if good + bad == 0:
        yield "No net change is judged, so there is no budget to check."
    elif bad:
        yield f"{bad} of {counted(good + bad, 'budget')} {'does' if bad == 1 else 'do'} NOT HOLD."
    else:
        yield f"{counted(good, 'budget')} checked: all hold." if good > 1 else "It holds."
