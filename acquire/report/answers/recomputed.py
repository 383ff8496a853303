"""What the results of its trials were before readings became suspect, and what they are now.

A check makes them so, or a re-adjustment before it that no check as found came before.

Reads the store and writes nothing. Any thread.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from acquire.analysis.comparisons.comparison import Comparison, Refusal
from acquire.analysis.figures import rounded, suffix
from acquire.analysis.scale import Scale
from acquire.report.evidence.evidence import Evidence, evidence_of
from acquire.report.record.loading import load_trial
from acquire.report.record.record import ReadingRecord, Standing, TrialRecord
from acquire.report.words.wording import counted
from acquire.store.placed import ADJUSTED_BEFORE, ADJUSTED_RUNS, SUSPECT_RUNS
from acquire.store.reader import StoreReader

MOST_LINES = 12


def recomputed_lines(store: Path, check_id: int) -> list[str]:
    """Each decision and mean that a check changed by making readings suspect, a line each.

    Empty where it made none suspect. Where a treatment has a decision before or now, its line says
    both; else the means of the zones stand. The last line names the command that shows all of it.
    """
    with StoreReader(store) as reader:
        notices = [row[0] for row in reader.rows(ADJUSTED_BEFORE, (check_id,))]
        runs = [*reader.rows(SUSPECT_RUNS, (check_id,))]
        for notice_id in notices:
            runs += reader.rows(ADJUSTED_RUNS, (notice_id,))
        trials = dict.fromkeys(row["trial"] for row in runs)
    said: list[str] = []
    for trial in trials:
        record = load_trial(store, trial)
        found = [] if record.plan.study is not None else list(_changes(record, check_id, notices))
        said += found[:MOST_LINES]
        if len(found) > MOST_LINES:
            said.append(f"... and {counted(len(found) - MOST_LINES, 'figure')} more of {trial}")
        said.append(f"all results of {trial} without them: coatbench report {trial}")
    return said


def _changes(record: TrialRecord, check_id: int, notices: Sequence[int]) -> Iterator[str]:
    before = evidence_of(_before(record, check_id, notices))
    now = evidence_of(record)
    for then, one in zip(before, now, strict=True):
        where = f"{record.plan.id}, {one.what.lower()}"
        decisions = list(_decisions(record, then, one))
        yield from (f"{where}, {line}" for line in decisions or _means(record, then, one))


def _before(record: TrialRecord, check_id: int, notices: Sequence[int]) -> TrialRecord:
    """The record as it stood before: its readings had no closing check yet."""

    def restored(r: ReadingRecord) -> ReadingRecord:
        by_check, by_adjusting = r.closing_check_id == check_id, r.adjusted_id in notices
        if r.standing is not Standing.SUSPECT or not (by_check or by_adjusting):
            return r
        return r._replace(
            standing=Standing.COUNTS, counts=True, bracket="open", closing_check_id=None
        )

    at = record.check(check_id)
    return replace(
        record,
        readings=tuple(restored(r) for r in record.readings),
        # Nor had it been found yet how the meter stood then.
        checks=tuple(
            c for c in record.checks
            if at is None or c.serial != at.serial or c.id < check_id
        ),
    )  # fmt: skip


def _decisions(record: TrialRecord, before: Evidence, now: Evidence) -> Iterator[str]:
    """Treatments of which the net change or its uncertainty is another one now."""
    scale = now.scale
    for old, new in zip(before.decided, now.decided, strict=True):
        if _worth(old) != _worth(new):
            yield (
                f"{old.stage}: {record.name_of(old.treatment)} was {_said(old, scale)}; without "
                f"them {_said(new, scale)}"
            )


def _means(record: TrialRecord, before: Evidence, now: Evidence) -> Iterator[str]:
    unit = suffix(now.result.unit)
    for old, new in zip(before.result.levels, now.result.levels, strict=True):
        if old.cell.mean is None or old.cell.n == new.cell.n:
            continue
        left = (
            "no reading counts"
            if new.cell.mean is None
            else f"{rounded(new.cell.mean, now.result.resolution)}{unit} of {new.cell.n}"
        )
        yield (
            f"{old.cell.stage}: the mean of zone {old.cell.zone} "
            f"({record.name_of(old.cell.treatment)}) was "
            f"{rounded(old.cell.mean, now.result.resolution)}{unit} of {old.cell.n}; without them "
            f"{left}"
        )


def _worth(found: Comparison | Refusal) -> tuple[object, ...]:
    if isinstance(found, Refusal):
        # Why there is no decision may change without that any figure does.
        return (found.decision,)
    return found.decision, found.estimate, found.interval


def _said(found: Comparison | Refusal, scale: Scale) -> str:
    if isinstance(found, Refusal):
        return f"“{found.decision}”, because {found.reason}"
    return f"“{found.decision}” ({scale.reached(found.estimate, found.budget.expanded)})"
