"""Who won what, in a few lines for a terminal: what stands at the top of the page. Any thread.

Reads the store and writes nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from acquire.report.answers.coverage import coverage
from acquire.report.answers.headline import answer
from acquire.report.evidence.evidence import evidence_of
from acquire.report.record.loading import Loader, load_trial
from acquire.report.record.record import TrialRecord
from acquire.report.sections.glance import GlanceRow, glance_rows
from acquire.report.sections.scores import score_parts
from acquire.report.terminal.summary import title_lines
from acquire.report.washing.washlife import wash_answer
from acquire.report.words.tabled import NONE


def short_lines(store: Path, trial: str, load: Loader | None = None) -> list[str]:
    """A few lines, by `load` where whoever asks wants the trial, too.

    Raises as `acquire.report.record.loading.load_trial`.
    """
    return list(lines_of_record(load(trial) if load is not None else load_trial(store, trial)))


def lines_of_record(record: TrialRecord) -> Iterator[str]:
    """The same of a record that is loaded already."""
    evidence = evidence_of(record)
    washed = [wash_answer(record, one) for one in evidence]
    yield from title_lines(record)
    rows = glance_rows(
        record,
        evidence,
        [answer(record, one) for one in evidence],
        washed,
        score_parts(record, list(zip(evidence, washed, strict=True))),
    )
    if not rows:
        yield "Nothing is judged yet."
    for row in rows:
        yield ""
        yield row.what
        yield f"  {row.first}"
        yield from _figures(row)
    yield ""
    yield from coverage(record)
    yield "Results describe the tested specimens under the tested conditions."


def _figures(row: GlanceRow) -> Iterator[str]:
    if row.figure != NONE:
        yield f"  with its 95 % interval: {row.figure}"
    if row.chance != NONE:
        yield f"  chance to be truly the best, which decides nothing: {row.chance}"
