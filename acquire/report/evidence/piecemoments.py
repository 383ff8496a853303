"""When a check read each of its pieces: a drift is counted from there, and not from its verdict.

A check of three pieces takes a while, and a zero that is read first has moved by the time the last
piece is read. So a drift runs from the mean moment at which the opening check read its reference
piece to that of the closing one, and what other pieces were off by is brought to these two moments,
in the straight line that the two readings of each draw. That is a few per cent of what such a piece
drifted by, and how well it was read is left as it was. Pure; any thread.
"""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

from acquire.analysis.checks.gaugezero import Zero
from acquire.analysis.checks.meterscale import Beside
from acquire.report.record.checkrecord import CheckRecord


class Moments(NamedTuple):
    """When the opening and the closing check read a piece, UTC ns; None where it was not read."""

    opening_ns: int | None
    closing_ns: int | None

    def parts(self, of: Moments) -> tuple[float, float]:
        """Where the moments `of` another piece lie between these: 0 at the opening, 1 at the
        closing, and beyond. Those that are not known lie nowhere else.
        """
        if self.opening_ns is None or self.closing_ns is None:
            return 0.0, 1.0
        lasting = self.closing_ns - self.opening_ns
        if lasting <= 0:
            return 0.0, 1.0
        first, last = (
            None if at is None else (at - self.opening_ns) / lasting
            for at in (of.opening_ns, of.closing_ns)
        )
        return 0.0 if first is None else first, 1.0 if last is None else last


def read_at_ns(check: CheckRecord, piece: str, channel: str) -> int | None:
    """The mean moment of the readings of a piece that its judgement rests on, UTC ns.

    Never after the judgement, which a clock that was set back may have come before; that of the
    judgement where no such reading is known.
    """
    moments = [
        r.at_utc_ns
        for r in check.readings
        if (r.piece, r.channel) == (piece, channel) and r.value is not None and not r.void_reason
    ]
    if not moments:
        return check.judged_utc_ns
    mean = sum(moments) // len(moments)
    return mean if check.judged_utc_ns is None else min(mean, check.judged_utc_ns)


def moments_of(
    piece: str, channel: str, opening: CheckRecord | None, closing: CheckRecord | None
) -> Moments:
    """When the two checks read a piece."""
    first, last = (None if c is None else read_at_ns(c, piece, channel) for c in (opening, closing))
    return Moments(first, last)


def beside_at(beside: Beside, own: Moments, reference: Moments) -> Beside:
    """What was found at a further piece, brought to the moments of the reference piece."""
    if beside.drift is None:
        return beside
    first, last = own.parts(reference)
    return beside._replace(
        deviation=beside.deviation + first * beside.drift, drift=(last - first) * beside.drift
    )


def zero_at(zero: Zero, own: Moments, reference: Moments) -> Zero:
    """The same of a gauge's zero."""
    if zero.closing is None:
        return zero
    first, last = own.parts(reference)
    return replace(zero, opening=zero.at(first), closing=zero.at(last))
