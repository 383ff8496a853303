"""From a coefficient of friction to the samples it was made of, and from these to bytes.

The reading of a pull has no bytes of its own; those of its samples are proved, by numbers and rows.
The thread of the reader.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from acquire.model import Samples
from acquire.report.evidence.pullrows import PullRow, of_measure, pull_rows
from acquire.report.evidence.pulls import FoundPull
from acquire.store import StoreReader

PROVED = "the tape gives these samples again, each of them"
NOT_PROVED = "NOT PROVED: the tape does not give these samples again"


class PullProof(NamedTuple):
    """Sentences on the pull of a reading; `holds` is whether the tape gives its samples again."""

    holds: bool
    lines: tuple[str, ...]


class PullBehind(NamedTuple):
    """What the store has behind a reading's coefficients: sentences, and where its samples are.

    `stretch` is that of the received bytes that they were made of; None where no samples are behind
    it.
    """

    lines: tuple[str, ...] = ()
    stretch: tuple[int, int] | None = None
    first: int = 0
    counts: NDArray[np.int32] | None = None
    unit: str = ""
    step: str = ""

    def against(self, samples: Sequence[Samples]) -> PullProof:
        """Held against the samples that the tape gives of that stretch now."""
        if self.counts is None:
            return PullProof(holds=True, lines=self.lines)
        last = self.first + self.counts.size - 1
        now = _again(samples, self.first, last, self.unit, self.step)
        holds = now is not None and np.array_equal(now, self.counts)
        return PullProof(holds, (*self.lines, PROVED if holds else NOT_PROVED))


def pull_behind(reader: StoreReader, row: dict[str, Any]) -> PullBehind:
    """What stands behind the coefficients of a force that a run read; nothing without a sled."""
    from acquire.report.evidence.evidence import evidence_of  # noqa: PLC0415 - slow
    from acquire.report.record.loading import load_trial  # noqa: PLC0415

    record = load_trial(reader.path, row["trial"])
    measure = record.plan.measure(row["measure"])
    if measure is None or measure.sled is None:
        return PullBehind()
    own = of_measure(evidence_of(record)).get(measure.id, [])
    found = next((r for r in pull_rows(own) if r.reading.id == row["reading_id"]), None)
    weight = measure.sled.weight_n
    if found is None:
        figure = next((e.friction.figures.get(row["reading_id"]) for e in own if e.friction), None)
        if figure is None:
            return PullBehind()
        return PullBehind(
            lines=(f"static coefficient {figure:.6g}: this force over a weight of {weight:.6g} N, "
                   "with the corrections that the page names",),
        )  # fmt: skip
    if found.found is None or found.found.pull is None:
        return PullBehind(lines=(f"it is in no coefficient: {found.lacking}",))
    return _of_pull(found, found.found, weight)


def _of_pull(row: PullRow, found: FoundPull, weight: float) -> PullBehind:
    pull, trace = found.pull, found.trace
    assert pull is not None
    first, last = trace.first + pull.start, trace.first + pull.end - 1
    blocks = trace.blocks_of(first, last)
    steady = pull.steady
    begin, end = found.sample_at(steady.start_s), found.sample_at(steady.end_s)
    lines = (
        f"its pull: samples {first} to {last} of trace {trace.id} ({trace.rate_hz} a second, steps "
        f"of {trace.step} {trace.unit}), in rows {blocks[0].id} to {blocks[-1].id} of its samples, "
        f"made of bytes {blocks[0].raw_start} to {blocks[-1].raw_end} of connection "
        f"{trace.connection_id}",
        f"zero under it: {pull.zero_n:.4g} N, standard uncertainty {pull.u_zero_n:.2g} N",
        f"first peak: sample {found.sample_at(pull.peak_s)}, {pull.peak_n:.4f} N above zero, "
        f"standard uncertainty by noise and sampling {pull.u_peak_n:.2g} N"
        f"{_over(row.static, weight, 'static')}",
        f"steady window: samples {begin} to {end}, mean {steady.mean_n:.4f} N above zero, peak to "
        f"peak {steady.peak_to_peak_n:.4f} N{_over(row.kinetic, weight, 'kinetic')}",
        *row.remarks,
    )
    return PullBehind(
        lines,
        (blocks[0].raw_start, blocks[-1].raw_end),
        first,
        trace.counts[pull.start : pull.end],
        trace.unit,
        str(trace.step),
    )


def _over(figure: float | None, weight: float, kind: str) -> str:
    if figure is None:
        return ""
    return f"; over a weight of {weight:.6g} N, with its corrections: {kind} {figure:.6g}"


def _again(
    samples: Sequence[Samples], first: int, last: int, unit: str, step: str
) -> NDArray[np.int32] | None:
    """The samples from `first` to `last` as the tape gives them; None where one is missing."""
    parts: list[NDArray[np.int32]] = []
    wanted = first
    for one in samples:
        counts = np.frombuffer(one.counts, "<i4")
        here = wanted - one.first
        if not 0 <= here < counts.size or (one.unit, str(one.step)) != (unit, step):
            continue
        parts.append(counts[here : last + 1 - one.first].astype(np.int32))
        wanted += parts[-1].size
        if wanted > last:
            return np.concatenate(parts)
    return None
