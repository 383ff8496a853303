"""Readings under no check: which of them may be taken to share one offset of one meter.

A check says how far a meter stood from its reference piece. Without one, what it reads cancels in
a difference only where both sides were read in one stretch: by one meter, over one connection,
without a long break, and without anything known that shifts it. Pure; any thread.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping

from acquire.model import NoticeKind
from acquire.report.record import TrialRecord

LONGEST_BREAK_S = 4 * 3600
"""A meter that was left alone for longer may stand elsewhere (common practice, no source)."""

_SHIFTS = frozenset({NoticeKind.ADJUSTED.value, NoticeKind.POWER_UP.value, "gap"})
"""After these a meter may stand elsewhere; bytes that went unrecorded may have told of one."""


def unchecked_stretches(record: TrialRecord) -> Mapping[int, str]:
    """The stretch of each unchecked reading, by its id; others are in none."""
    shifts: dict[str, list[int]] = {}
    for trouble in record.troubles:
        if trouble.kind in _SHIFTS:
            # Troubles come in the order of their moments.
            shifts.setdefault(trouble.instrument, []).append(trouble.at_utc_ns)
    found: dict[int, str] = {}
    last_ns: dict[tuple[str, str, int], int] = {}
    breaks: dict[tuple[str, str, int], int] = {}
    for reading in sorted(record.readings, key=lambda r: r.id):
        if reading.bracket != "unchecked":
            continue
        meter = (reading.instrument, reading.serial, reading.connection_id)
        now_ns = reading.at_utc_ns
        since_ns = last_ns.get(meter, now_ns)
        told = shifts.get(reading.instrument, [])
        is_shifted = bisect_right(told, since_ns) < bisect_right(told, now_ns)
        if is_shifted or abs(now_ns - since_ns) > LONGEST_BREAK_S * 1_000_000_000:
            breaks[meter] = breaks.get(meter, 0) + 1
        last_ns[meter] = now_ns
        found[reading.id] = f"{' '.join(map(str, meter))} {breaks.get(meter, 0)}"
    return found
