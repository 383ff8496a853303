"""Correcting readings for what the opening and closing check found.

Checks read a piece of certified value c: x0 at the opening (time t0), x1 at the closing (t1). The
meter's offset x - c is taken to move linearly in between. Outside the two checks nothing is
corrected. Results do not apply these corrections of their own accord; they carry the drift as a
known bias and an uncertainty (`acquire.analysis.meter.systematic`). Pure. Any thread.
"""

from __future__ import annotations

import math
from typing import NamedTuple


class Check(NamedTuple):
    """A mean that was read: `value`, its standard uncertainty, when (any clock, s)."""

    value: float
    u: float
    at: float


class Corrected(NamedTuple):
    """A reading corrected for the meter's offset, in the unit of the reading.

    `position` is 0 at the opening and 1 at the closing; `u_checks` is the part of the uncertainty
    that the two checks bring, `u` the whole (reading, checks, certificate).
    """

    value: float
    correction: float
    position: float
    u_checks: float
    u: float


def offset_corrected(
    reading: Check, certified: float, u_certified: float, opening: Check, closing: Check
) -> Corrected:
    """Subtract the meter's offset interpolated at the time of `reading`.

    y = r - (1 - p) x0 - p x1 + c, p = (t - t0)/(t1 - t0), hence
    u^2(y) = u^2(r) + (1 - p)^2 u^2(x0) + p^2 u^2(x1) + u^2(c). Raises ValueError outside the
    checks, or where the closing is not later than the opening.
    """
    position = _position(reading.at, opening.at, closing.at)
    offset = (1 - position) * opening.value + position * closing.value - certified
    u_checks = math.hypot((1 - position) * opening.u, position * closing.u)
    return Corrected(
        reading.value - offset,
        -offset,
        position,
        u_checks,
        math.hypot(reading.u, u_checks, u_certified),
    )


class GainCorrected(NamedTuple):
    """A reading divided by the meter's gain x/c, interpolated between the checks."""

    value: float
    gain_open: float
    gain_close: float
    gain: float


def gain_corrected(
    reading: float, certified: float, opening: float, closing: float, position: float
) -> GainCorrected:
    """For a meter whose scale drifts rather than its zero.

    Raises ValueError for a position outside 0 to 1, or a gain of zero.
    """
    if not 0 <= position <= 1:
        raise ValueError(f"a position from 0 to 1 between the checks is wanted, got {position}")
    if certified == 0:
        raise ValueError("a piece of certified value 0 shows no gain")
    gain_open, gain_close = opening / certified, closing / certified
    gain = (1 - position) * gain_open + position * gain_close
    if gain == 0:
        raise ValueError("the piece reads 0 there: no gain to correct by")
    return GainCorrected(reading / gain, gain_open, gain_close, gain)


class Allowance(NamedTuple):
    """What to allow for a drift that is not corrected, readings spread evenly over the bracket.

    `mid_correction` with +/- `half_width` (rectangular, `u`) if the middle is corrected;
    `rms_error` is the root mean square error if nothing is.
    """

    mid_correction: float
    half_width: float
    u: float
    rms_error: float


def uncorrected_allowance(error_open: float, error_close: float) -> Allowance:
    """From the meter's error (read minus certified) at both checks."""
    middle = (error_open + error_close) / 2
    half = abs(error_close - error_open) / 2
    u = half / math.sqrt(3)
    return Allowance(-middle, half, u, math.hypot(middle, u))


def _position(at: float, start: float, end: float) -> float:
    if not end > start:
        raise ValueError(f"the closing check must be later than the opening, got {start} and {end}")
    if not start <= at <= end:
        raise ValueError(
            f"the reading at {at} lies outside its checks ({start} to {end}); a drift is not "
            "extrapolated"
        )
    return (at - start) / (end - start)
