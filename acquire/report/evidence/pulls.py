"""The pull in the stored trace behind each reading of a gauge that streams. Pure; any thread.

A reading is the largest force of a pull by the bench's own rule, which knows no zero and no first
peak. Here each is held against the pulls that the whole trace shows (`acquire.analysis.slickness`):
the one whose first peak lies between the end of the reading before and its own. What is not found
is said, with what stands there instead.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from acquire.analysis.slickness.pull import Pull, Rejected, Segmented
from acquire.analysis.slickness.rules import Rules, Window
from acquire.model import Measure, SledSpec
from acquire.report.record.record import TrialRecord
from acquire.report.record.traces import EndRecord, TraceRecord
from acquire.units import convert

_FIRST_S = 30.0
"""So long before the end of a run's first pull what is no pull is told: who records, sets up."""


@dataclass(frozen=True, slots=True)
class FoundPull:
    """The pull of one reading: `pull` or, where there is none, why it is `lacking`.

    `end` is the number of the sample behind the one that ended it, in the trace's own stream.
    `remarks` are sentences about how reading and pull agree.
    """

    reading_id: int
    trace: TraceRecord
    end: int
    pull: Pull | None
    lacking: str = ""
    remarks: tuple[str, ...] = ()

    def sample_at(self, at_s: float) -> int:
        """The number of the sample at a time of the segmentation."""
        return self.trace.first + round(at_s * float(self.trace.rate_hz))


@dataclass(frozen=True, slots=True)
class Unused:
    """A rise of the force that is no pull, in the trace of a run, by the numbers of its samples."""

    trace: TraceRecord
    first: int
    last: int
    rejected: Rejected


@dataclass(frozen=True, slots=True)
class Pulls:
    """All of one measure: by reading, rises that are none, and pulls that no reading is of."""

    found: Mapping[int, FoundPull]
    unused: tuple[Unused, ...]
    without_reading: int
    refusals: tuple[str, ...]


def rules_for(sled: SledSpec) -> Rules:
    """What is a pull with this sled."""
    w = sled.window
    window = (
        None if w is None else Window(float(w.skip_mm), float(w.length_mm), float(w.speed_mm_per_s))
    )
    return Rules.for_weight(sled.weight_n, window=window)


def pulls_of(record: TrialRecord, measure: Measure) -> Pulls:
    """The pulls behind the readings of a measure with a sled; of no trace there are none."""
    assert measure.sled is not None
    values = {r.id: r.value for r in record.readings if r.measure == measure.id}
    found: dict[int, FoundPull] = {}
    unused: list[Unused] = []
    refusals: list[str] = []
    without = 0
    rules = rules_for(measure.sled)
    for trace in (t for t in record.traces if t.measure == measure.id):
        seen = _segmented(trace, rules)
        if seen.refusal:
            refusals.append(f"Trace {trace.id}, run {trace.run_id}: {seen.refusal}")
        own = _own(trace, seen, values)
        found |= own
        begun = _begun(trace)
        rate = float(trace.rate_hz)
        without += sum(
            _is_without_reading(trace, trace.first + round(p.peak_s * rate), begun)
            for p in seen.pulls
        )
        unused += [
            Unused(trace, first, trace.first + round(r.end_s * rate), r)
            for r in seen.rejected
            if (first := trace.first + round(r.start_s * rate)) >= begun
        ]
    return Pulls(found, tuple(unused), without, tuple(refusals))


def _begun(trace: TraceRecord) -> int:
    """From which sample on what happens belongs to the run: the reading before its first one."""
    first = min(e.sample for e in trace.ends)
    earlier = max((e for e in trace.all_ends if e < first), default=trace.first)
    return max(earlier, first - round(_FIRST_S * float(trace.rate_hz)))


def _is_without_reading(trace: TraceRecord, peak: int, begun: int) -> bool:
    """Whether a pull ended in no reading: the bench's own rule took it for none, or goes on."""
    return peak >= begun and not any(e > peak for e in trace.all_ends)


def _segmented(trace: TraceRecord, rules: Rules) -> Segmented:
    # It brings scipy.ndimage, which a trial without traces need not wait for.
    from acquire.analysis.slickness.segment import segment  # noqa: PLC0415

    if rules not in trace.segmented:
        rate = float(trace.rate_hz)
        try:
            trace.segmented[rules] = segment(trace.force_n, rate, rules)
        except ValueError as why:
            trace.segmented[rules] = Segmented(rate, trace.counts.size, 0.0, (), (), f"{why}.")
    return trace.segmented[rules]


def _own(
    trace: TraceRecord, seen: Segmented, values: Mapping[int, Decimal | None]
) -> dict[int, FoundPull]:
    """Each reading of a trace with its pull, in the order of the stream."""
    rate = float(trace.rate_hz)
    peaks = [(trace.first + round(p.peak_s * rate), p) for p in seen.pulls]
    found: dict[int, FoundPull] = {}
    for end in sorted(trace.ends, key=lambda e: e.sample):
        before = max((e for e in trace.all_ends if e < end.sample), default=trace.first)
        here = [p for at, p in peaks if before <= at < end.sample]
        value = values.get(end.reading_id)
        found[end.reading_id] = _chosen(trace, seen, end, before, here, value)
    return found


def _chosen(
    trace: TraceRecord,
    seen: Segmented,
    end: EndRecord,
    before: int,
    here: list[Pull],
    value: Decimal | None,
) -> FoundPull:
    reading = None if value is None else float(value)
    if len(here) > 1 and reading is not None:
        # The bench takes two pulls with too little slack between them for one: the reading is the
        # higher one.
        alike = [p for p in here if _largest(trace, p) == _nearest(trace, reading)]
        if len(alike) == 1:
            remark = (
                f"{len(here)} pulls stand behind this one reading; it is the largest force of one "
                f"of them, and {'the other is' if len(here) == 2 else 'the others are'} counted "
                "for nothing."
            )
            return FoundPull(end.reading_id, trace, end.sample, alike[0], "", (remark,))
    if len(here) > 1:
        return FoundPull(
            end.reading_id, trace, end.sample, None,
            f"{len(here)} pulls stand behind it, and nothing tells which one was meant: leave the "
            "line slack for longer between two pulls",
        )  # fmt: skip
    if not here:
        return FoundPull(
            end.reading_id, trace, end.sample, None, _why_none(trace, seen, end, before)
        )
    (pull,) = here
    remarks = list(pull.remarks)
    if reading is not None and _largest(trace, pull) != _nearest(trace, reading):
        remarks.append(
            f"The reading is {reading:.4g} N and the largest sample of this pull another one: a "
            "knock beside it was taken along by the bench's own rule."
        )
    return FoundPull(end.reading_id, trace, end.sample, pull, "", tuple(remarks))


def _largest(trace: TraceRecord, pull: Pull) -> int:
    return int(trace.counts[pull.start : pull.end].max())


def _nearest(trace: TraceRecord, force_n: float) -> int:
    """How many steps a force is."""
    return round(force_n / float(convert(trace.step, trace.unit, "newton")))


def _why_none(trace: TraceRecord, seen: Segmented, end: EndRecord, before: int) -> str:
    if seen.refusal:
        return seen.refusal[0].lower() + seen.refusal[1:].rstrip(".")
    rate = float(trace.rate_hz)
    rejected = [
        r
        for r in seen.rejected
        if trace.first + round(r.start_s * rate) < end.sample
        and trace.first + round(r.end_s * rate) >= before
    ]
    if rejected:
        last = max(rejected, key=lambda r: r.largest_n)
        because = last.because[0].lower() + last.because[1:].rstrip(".")
        return f"what stands in the trace there is no pull ({last.why}): {because}"
    return "the trace shows no pull there"
