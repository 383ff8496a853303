"""The traces behind the readings of a measure with a sled, as the store keeps them.

A gauge that streams has all its samples in the store. The reading of a pull stands at the place of
the connection at which the block of samples ends that ended the pull (`acquire.driverkit.streaming`
gives the samples first and the reading behind them), so a reading and its trace are found by bytes
and not by time. Any thread, with its own reader.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from acquire.analysis.slickness.pull import Segmented
from acquire.analysis.slickness.rules import Rules
from acquire.model import Plan
from acquire.report.record.placing import MINE
from acquire.store.reader import StoreReader
from acquire.units import convert

BEFORE_S = 60.0
"""So much of a trace is looked at before the first reading of a run: its pull and the dwell."""
BEHIND_S = 2.0
_WIDTHS = {1: "<i1", 2: "<i2", 4: "<i4"}

_READINGS = f"""
SELECT reading_id, measure, run_id, connection_id, raw_start FROM readings
WHERE reading_id IN ({MINE}) AND quantity = 'force' AND raw_start = raw_end
ORDER BY reading_id
"""  # noqa: S608 - our own names
_ENDS = """
SELECT raw_start FROM reading WHERE connection_id = ? AND raw_start = raw_end
"""
_BLOCKS = """
SELECT id, first, length(counts) / width AS number, raw_start, raw_end FROM trace_block
WHERE trace_id = ? ORDER BY first
"""


class BlockRecord(NamedTuple):
    """A row of samples: `number` of them from `first` on, made of these bytes of the connection."""

    id: int
    first: int
    number: int
    raw_start: int
    raw_end: int


class EndRecord(NamedTuple):
    """A reading, and the number of the sample behind the one that ended its pull."""

    reading_id: int
    sample: int


@dataclass(frozen=True)
class TraceRecord:
    """A part of a trace around the readings of one run of one measure.

    `id` is the row of the trace; samples are numbered as its stream does, from `first` here.
    `counts` are steps of `step` in `unit`. `all_ends` has the places of all readings of the
    connection, those of other runs, checks and loose ones too. `segmented` remembers what was
    found in the samples.
    """

    id: int
    connection_id: int
    measure: str
    run_id: int
    unit: str
    step: Decimal
    rate_hz: Decimal
    blocks: tuple[BlockRecord, ...]
    ends: tuple[EndRecord, ...]
    all_ends: tuple[int, ...]
    counts: NDArray[np.int32] = field(compare=False, repr=False)
    segmented: dict[Rules, Segmented] = field(default_factory=dict, compare=False, repr=False)

    @property
    def first(self) -> int:
        return self.blocks[0].first

    @cached_property
    def force_n(self) -> NDArray[np.float64]:
        """The samples in newton, shape (n,)."""
        return self.counts.astype(np.float64) * float(convert(self.step, self.unit, "newton"))

    def blocks_of(self, first: int, last: int) -> tuple[BlockRecord, ...]:
        """The rows that hold the samples from `first` to `last`."""
        return tuple(b for b in self.blocks if b.first <= last and first < b.first + b.number)


def traces_of(reader: StoreReader, trial: str, plan: Plan) -> tuple[TraceRecord, ...]:
    """The traces behind the readings of all measures with a sled; asks nothing without one."""
    measures = {m.id for m in plan.measures if m.sled is not None}
    if not measures:
        return ()
    places: dict[int, dict[int, tuple[int, str, int]]] = {}
    for row in reader.rows(_READINGS, (trial,)):
        if row["measure"] in measures:
            here = places.setdefault(row["connection_id"], {})
            here[row["raw_start"]] = (row["reading_id"], row["measure"], row["run_id"])
    found: list[TraceRecord] = []
    for connection, readings in places.items():
        known_ends = {row["raw_start"] for row in reader.rows(_ENDS, (connection,))}
        for trace in reader.rows(
            "SELECT id, unit, step, rate_hz FROM trace WHERE connection_id = ? ORDER BY id",
            (connection,),
        ):
            # Row by row: a gauge that streamed all day has a million of them.
            ends: dict[tuple[str, int], list[EndRecord]] = {}
            every: list[int] = []
            for block in _blocks(reader, trace["id"]):
                if block.raw_end in known_ends:
                    every.append(block.first + block.number)
                known = readings.get(block.raw_end)
                if known is not None:
                    reading, measure, run = known
                    end = EndRecord(reading, block.first + block.number)
                    ends.setdefault((measure, run), []).append(end)
            rate = Decimal(trace["rate_hz"])
            for (measure, run), own in ends.items():
                for part in _around(_blocks(reader, trace["id"]), own, float(rate)):
                    inside = tuple(e for e in own if _holds(part, e.sample))
                    if inside:
                        found.append(
                            TraceRecord(
                                trace["id"], connection, measure, run, trace["unit"],
                                Decimal(trace["step"]), rate, tuple(part), inside,
                                tuple(e for e in every if _holds(part, e)),
                                _counts(reader, part),
                            )
                        )  # fmt: skip
    return tuple(found)


def _blocks(reader: StoreReader, trace: int) -> Iterator[BlockRecord]:
    return (BlockRecord(*row) for row in reader.each(_BLOCKS, (trace,)))


def _holds(blocks: Sequence[BlockRecord], sample: int) -> bool:
    return blocks[0].first < sample <= blocks[-1].first + blocks[-1].number


def _around(
    blocks: Iterable[BlockRecord], ends: Sequence[EndRecord], rate_hz: float
) -> Iterator[list[BlockRecord]]:
    """The rows around the readings of a run, cut wherever samples are missing between two."""
    low = min(e.sample for e in ends) - BEFORE_S * rate_hz
    high = max(e.sample for e in ends) + BEHIND_S * rate_hz
    part: list[BlockRecord] = []
    for block in blocks:
        if block.first + block.number <= low or block.first >= high:
            continue
        if part and part[-1].first + part[-1].number != block.first:
            yield part
            part = []
        part.append(block)
    if part:
        yield part


def _counts(reader: StoreReader, blocks: Sequence[BlockRecord]) -> NDArray[np.int32]:
    """All samples of rows that follow on one another."""
    low, high = blocks[0], blocks[-1]
    rows = reader.each(
        "SELECT b.width, b.counts FROM trace_block AS b, "
        "(SELECT trace_id FROM trace_block WHERE id = ?) AS t "
        "WHERE b.trace_id = t.trace_id AND b.first BETWEEN ? AND ? ORDER BY b.first",
        (low.id, low.first, high.first),
    )
    parts = [np.frombuffer(row["counts"], _WIDTHS[row["width"]]) for row in rows]
    return np.concatenate(parts).astype(np.int32)
