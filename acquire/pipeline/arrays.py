"""Spectra and traces on their way into the store. They are evidence: no array counts by itself.

Readings made of them pass the gate like all others. Part of the desk; its thread.
"""

from __future__ import annotations

from array import array
from sys import byteorder

from acquire.model import EvenGrid, Samples, Spectrum, Target
from acquire.pipeline.ids import Ids
from acquire.pipeline.standing import Standing
from acquire.store import array_rows as r
from acquire.store.rows import Row

_WIDTHS = ((1, 2**7, "b"), (2, 2**15, "h"))


def spectrum_row(
    ids: Ids, standing: Standing, connection_id: int, spectrum: Spectrum, sitting_id: int | None
) -> r.SpectrumRow:
    """The row of a spectrum."""
    grid = spectrum.wavelengths
    even = grid if isinstance(grid, EvenGrid) else None
    return r.SpectrumRow(
        ids.take(r.SpectrumRow),
        connection_id,
        standing.spec.id,
        standing.serial,
        spectrum.at.utc_ns,
        spectrum.at.mono_ns,
        spectrum.quantity.value,
        spectrum.unit,
        spectrum.type.value,
        None if even is None else even.start_nm,
        None if even is None else even.step_nm,
        None if isinstance(grid, EvenGrid) else _little_endian(array("d", grid)),
        spectrum.values,
        spectrum.press,
        ",".join(sorted(spectrum.flags)),
        spectrum.start,
        spectrum.end,
        sitting_id,
    )


def trace_rows(
    ids: Ids,
    standing: Standing,
    connection_id: int,
    samples: Samples,
    sitting_id: int | None,
    run_id: int | None,
    target: Target | None,
) -> list[Row]:
    """The row of a stretch, and before it that of its trace where one begins.

    A trace goes on as long as the stream does: one connection, one unit, step and rate, and no
    sample missing.
    """
    rows: list[Row] = []
    trace = standing.trace
    same = (connection_id, samples.channel, samples.unit, str(samples.step), str(samples.rate_hz))
    if (
        trace is None
        or samples.first != standing.trace_end
        or same != (trace.connection_id, trace.channel, trace.unit, trace.step, trace.rate_hz)
    ):
        trace = r.TraceRow(
            ids.take(r.TraceRow),
            connection_id,
            standing.spec.id,
            standing.serial,
            samples.at.utc_ns,
            samples.at.mono_ns,
            samples.quantity.value,
            samples.channel,
            samples.unit,
            str(samples.step),
            str(samples.rate_hz),
            sitting_id,
        )
        standing.trace = trace
        rows.append(trace)
    width, counts, number = _packed(samples.counts)
    standing.trace_end = samples.first + number
    rows.append(
        r.TraceBlockRow(
            ids.take(r.TraceBlockRow),
            trace.id,
            samples.at.utc_ns,
            samples.at.mono_ns,
            samples.first,
            width,
            counts,
            samples.start,
            samples.end,
            run_id,
            target.zone if target else None,
            target.stage if target else None,
            target.replicate if target else None,
        )
    )
    return rows


def _packed(counts: bytes) -> tuple[int, bytes, int]:
    """Counts in the fewest bytes that hold each of them: the width, the bytes, how many."""
    values = array("i")
    values.frombytes(counts)
    if byteorder == "big":
        values.byteswap()
    highest, lowest = max(values), min(values)
    reach = max(highest, -lowest - 1)
    for width, limit, code in _WIDTHS:
        if reach < limit:
            return width, _little_endian(array(code, values)), len(values)
    return 4, counts, len(values)


def _little_endian(numbers: array[int] | array[float]) -> bytes:
    if byteorder == "big":
        numbers.byteswap()
    return numbers.tobytes()
