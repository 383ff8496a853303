"""Points as they are printed: rounded once, at the end, halves outwards. Light to import; pure."""

from __future__ import annotations

import math
from decimal import Decimal

TINY = 1e-9
"""So much of a step is let go, so that no noise of binary figures turns a half."""


def step_of(points: float, decimals: int) -> int:
    """Points in whole steps of the last decimal that is printed."""
    return int(math.copysign(math.floor(abs(points) * 10.0**decimals + 0.5 + TINY), points))


def printed(points: float, decimals: int) -> str:
    """Points rounded as they are printed, with a true minus and never a minus zero."""
    steps = step_of(points, decimals)
    text = f"{Decimal(abs(steps)).scaleb(-decimals):.{decimals}f}"
    return f"−{text}" if steps < 0 else text
