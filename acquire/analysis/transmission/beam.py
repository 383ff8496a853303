"""From counts to transmittance: dark taken off, the open beam interpolated to the sample's moment.

    T = (S - D) / (R(t) - D),   R(t) = R_1 + (R_2 - R_1) (t - t_1)/(t_2 - t_1)

S, D and R are the readings of sample, dark and open beam in the head's own unit. The lamp is taken
to drift in a straight line between the open beam before and after, and never beyond them. The
formulas take floats, arrays of one shape, and numbers that carry their uncertainty
(`acquire.analysis.transmission.meter`), since they use nothing but arithmetic. Pure; any thread.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, TypeVar

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from uncertainties import UFloat

Number = TypeVar("Number", float, NDArray[np.float64], "UFloat")


def position(before_s: float, after_s: float, sample_s: float) -> float:
    """Where the sample lies between both open beams, 0 to 1.

    Raises ValueError for times that are not finite, an `after_s` that is not later than
    `before_s`, and a sample outside both: the drift is not extrapolated.
    """
    if not all(map(math.isfinite, (before_s, after_s, sample_s))):
        raise ValueError("the times of open beam and sample must be finite")
    if not before_s < after_s:
        raise ValueError(
            f"the second open beam must be later than the first, got {before_s:g} and {after_s:g} s"
        )
    if not before_s <= sample_s <= after_s:
        raise ValueError(
            f"the sample at {sample_s:g} s lies outside its open beams at {before_s:g} and "
            f"{after_s:g} s; the drift of the lamp is not extrapolated. Next: read the open beam "
            "again and measure between two of them"
        )
    return (sample_s - before_s) / (after_s - before_s)


def light_ratio(sample: Number, dark: Number, beam: Number) -> Number:
    """(sample - dark)/(beam - dark), whatever comes out: above 1 and below 0 stay.

    The caller makes sure that there is light (`acquire.analysis.transmission.spectrum`).
    """
    ratio: Number = (sample - dark) / (beam - dark)
    return ratio
