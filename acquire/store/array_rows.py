"""Rows of what is no single value: spectra, and traces of values at a steady rate."""

from __future__ import annotations

from typing import NamedTuple


class SpectrumRow(NamedTuple):
    """An array over wavelength as the device sent it; its bytes are on the tape of `connection_id`.

    `numbers` are floats of `type`, least significant byte first. The wavelengths are `start_nm` and
    `step_nm`, or `grid_nm`: as many binary64, least significant byte first.
    """

    id: int
    connection_id: int
    instrument: str
    serial: str
    at_utc_ns: int
    at_mono_ns: int
    quantity: str
    unit: str
    type: str
    start_nm: float | None
    step_nm: float | None
    grid_nm: bytes | None
    numbers: bytes
    press: int | None
    flags: str
    raw_start: int
    raw_end: int
    sitting_id: int | None


class TraceRow(NamedTuple):
    """A stream of values at a steady rate began: what its blocks have in common."""

    id: int
    connection_id: int
    instrument: str
    serial: str
    at_utc_ns: int
    at_mono_ns: int
    quantity: str
    channel: str
    unit: str
    step: str
    rate_hz: str
    sitting_id: int | None


class TraceBlockRow(NamedTuple):
    """A stretch of a trace: its counts, least significant byte first, `width` bytes each.

    A value is its count times the step of the trace. `first` is the place of the first one in the
    stream; the tags are those of the target that was next.
    """

    id: int
    trace_id: int
    at_utc_ns: int
    at_mono_ns: int
    first: int
    width: int
    counts: bytes
    raw_start: int
    raw_end: int
    run_id: int | None
    zone: str | None
    stage: str | None
    replicate: int | None
