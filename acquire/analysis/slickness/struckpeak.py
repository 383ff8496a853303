"""Whether a knock fell so near a first peak that its height is in doubt. Pure; any thread."""

from __future__ import annotations

from acquire.analysis.slickness.cut import Cut
from acquire.analysis.slickness.knocks import own_rate
from acquire.analysis.slickness.slideknocks import fast_rises

NEAR_S = 0.04
"""A knock that was taken out begins or ends so near: the line that stands for it bends the peak."""
_RISES_S = 0.03
_RATES = 2.5
"""Of the pull's own rate: on generated traces 3 of 5,600 sound peaks were risen to so fast, and 10
of 26 that a knock had moved by more than 0.5 %."""


def is_struck(cut: Cut, place: int, level_n: float) -> bool:
    """Whether a knock may have moved the peak at sample `place` of a pull that slides at a level.

    One was taken out within `NEAR_S`, or the force rose to the peak faster than the hand pulled.
    """
    near = round(NEAR_S * cut.rate_hz)
    if any(knock.first - near <= place <= knock.last + near for knock in cut.knocks):
        return True
    first = max(0, place - round(_RISES_S * cut.rate_hz))
    rate_n = _RATES * own_rate(cut, place, level_n)
    return place > first and bool(fast_rises(cut, first, place, rate_n, level_n))
