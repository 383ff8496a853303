"""How many readings a comparison needs, from the scatter of single readings. Pure; any thread.

A product is judged by its net change: a treated zone, bare and after, less the control, bare and
after, so four means of n readings each. Its standard uncertainty is 2 s/sqrt(n) with 4 (n - 1)
degrees of freedom where all four scatter alike; the difference it shows with 80 % probability
follows from the noncentral t (`acquire.analysis.power`). Drift, the display and several products
at once come on top: this is the least that is needed.
"""

from __future__ import annotations

import math

from acquire.analysis.power import smallest_difference
from acquire.analysis.student import t_factor

MOST = 1000
"""Readings of a zone beyond which nobody goes; as `acquire.settings.trial` allows."""


def net_change_seen(sd: float, readings: int, nu: float | None = None) -> float | None:
    """The net change that so many readings a zone and stage show in 80 of 100 repeats.

    In the unit of `sd`. One reading knows no scatter of its own: that of a study with `nu` degrees
    of freedom stands for it, and without one the answer is None.
    """
    df = 4 * (readings - 1) if readings > 1 else nu
    if df is None:
        return None
    return smallest_difference(t_factor(df), df) * 2 * sd / math.sqrt(readings)


def readings_for(sd: float, wanted: float) -> int | None:
    """The fewest readings a zone and stage that show a net change of `wanted`.

    At least 2; None where `MOST` do not. Raises ValueError where `wanted` is not above zero.
    """
    if not wanted > 0:
        raise ValueError(f"a difference above zero is wanted, got {wanted}")
    low, high = 2, MOST

    def shows(n: int) -> bool:
        seen = net_change_seen(sd, n)
        return seen is not None and seen <= wanted

    if shows(low):
        return low
    if not shows(high):
        return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if shows(middle) else (middle, high)
    return high
