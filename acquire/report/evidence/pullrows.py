"""Every pull behind the coefficients of a measure, with its figures and its place in the store.

Page, terminal and files take these rows. A row goes back to bytes: it names the trace, the numbers
of its samples in it, and the rows of samples that hold them. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from acquire.analysis.meter.friction import FrictionKind
from acquire.report.evidence.evidence import Evidence
from acquire.report.evidence.pulls import FoundPull
from acquire.report.record.record import ReadingRecord, TrialRecord
from acquire.report.words.columns import Column, Record

PULL, NO_PULL = "pull", "no pull"

PULL_COLUMNS = (
    Column("coefficient", "of friction, static or kinetic; empty where figures are none", True),
    Column("reading_id", "of a pull: the number of its reading"),
    Column("replicate", "of a pull: that of its reading"),
    Column("counts", "of a pull: 1 if its reading is in the results"),
    Column("static", "of a pull: first peak over weight, with the corrections that are on"),
    Column("kinetic", "of a pull: mean of the steady window over weight, likewise"),
    Column("static_n", "of a pull: its first peak above its zero, in newton"),
    Column("kinetic_n", "of a pull: the mean of its steady window above its zero, in newton"),
    Column("stick_slip_n", "of a pull: peak to peak in the steady window, in newton"),
    Column("zero_n", "of a pull: what the gauge read with the line slack, in newton, at its first "
           "peak; it is taken off in a straight line between the rests before and behind"),
    Column("dwell_s", "of a pull: how long the sled had stood at its onset; empty if not known"),
    Column("trace_id", "the row of the trace in the store"),
    Column("first_sample", "number, in the trace, of the first sample of the pull"),
    Column("last_sample", "of the last"),
    Column("peak_sample", "of the first peak"),
    Column("steady_first_sample", "of the first one of the steady window"),
    Column("steady_last_sample", "of the last one of it"),
    Column("first_block", "the row of samples that holds the first of these"),
    Column("last_block", "the row that holds the last"),
)  # fmt: skip


class PullRow(NamedTuple):
    """One reading of a measure with a sled. `found` is None where nothing is stored beside it."""

    reading: ReadingRecord
    static: float | None
    kinetic: float | None
    found: FoundPull | None
    lacking: str

    @property
    def remarks(self) -> tuple[str, ...]:
        return () if self.found is None else self.found.remarks


def of_measure(evidence: Sequence[Evidence]) -> dict[str, list[Evidence]]:
    """The evidence of each measure with a sled, by its id: static and, of traces, kinetic."""
    found: dict[str, list[Evidence]] = {}
    for one in evidence:
        if one.friction is not None:
            found.setdefault(one.measure.id, []).append(one)
    return found


def pull_rows(evidence: Sequence[Evidence]) -> list[PullRow]:
    """The rows of one measure, in the order of its readings; empty where nothing was streamed."""
    facts = {e.friction.friction.kind: e.friction for e in evidence if e.friction is not None}
    static = facts.get(FrictionKind.STATIC)
    if static is None or static.pulls is None:
        return []
    kinetic = facts.get(FrictionKind.KINETIC)
    rows = []
    for reading in evidence[0].readings:
        found = static.pulls.found.get(reading.id)
        lacking = static.lacking.get(reading.id, "" if found is None else found.lacking)
        rows.append(
            PullRow(
                reading,
                static.figures.get(reading.id),
                None if kinetic is None else kinetic.figures.get(reading.id),
                found,
                lacking,
            )
        )
    return rows


def pull_records(record: TrialRecord, evidence: Sequence[Evidence]) -> Iterator[Record]:
    """The rows of one measure for a spreadsheet or a program."""
    treatments = {z.id: z.treatment for z in record.plan.zones}
    for row in pull_rows(evidence):
        r = row.reading
        treatment = treatments.get(r.zone, "")
        known: Record = {
            "result": PULL if row.found is not None and row.found.pull is not None else NO_PULL,
            "stage": r.stage,
            "zone": r.zone,
            "treatment": treatment,
            "treatment_name": record.name_of(treatment),
            "reading_id": r.id,
            "replicate": r.replicate,
            "counts": int(r.counts),
            "reason": row.lacking or None,
            "too_late": int(r.id in evidence[0].late_ids),
        }
        if row.found is not None and row.found.pull is not None:
            known |= _figures(row, row.found)
        yield known


def _figures(row: PullRow, found: FoundPull) -> Record:
    pull = found.pull
    assert pull is not None
    first, last = found.trace.first + pull.start, found.trace.first + pull.end - 1
    steady = pull.steady
    blocks = found.trace.blocks_of(first, last)
    return {
        "static": None if row.static is None else _figure(row.static),
        "kinetic": None if row.kinetic is None else _figure(row.kinetic),
        "static_n": _figure(pull.peak_n),
        "kinetic_n": _figure(steady.mean_n),
        "stick_slip_n": _figure(steady.peak_to_peak_n),
        "zero_n": _figure(pull.zero_n),
        "dwell_s": None if pull.dwell_s is None else _figure(pull.dwell_s),
        "trace_id": found.trace.id,
        "first_sample": first,
        "last_sample": last,
        "peak_sample": found.sample_at(pull.peak_s),
        "steady_first_sample": found.sample_at(steady.start_s),
        "steady_last_sample": found.sample_at(steady.end_s),
        "first_block": blocks[0].id,
        "last_block": blocks[-1].id,
    }


def _figure(value: float) -> float:
    """Ten significant digits, as all figures of results."""
    return float(f"{value:.10g}")
