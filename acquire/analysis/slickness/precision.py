"""What two results for a coefficient of friction may differ by. Pure; any thread."""

from __future__ import annotations

D2534_REPEATABILITY = 0.06
D2534_REPRODUCIBILITY = 0.17
"""What two results for the kinetic coefficient of wax coatings differ by at most, 19 times of 20:
one operator, and two laboratories (ASTM D2534, clause 13)."""


def within_precision(a: float, b: float, limit: float) -> tuple[float, bool]:
    """How far two results are apart, and whether a limit of precision allows for it.

    Exactly on the limit is within. Raises ValueError for a limit that is not above zero.
    """
    if not limit > 0:
        raise ValueError(f"a limit above 0 is wanted, got {limit}")
    apart = abs(b - a)
    # 0.36 - 0.3 is a little above 0.06 in binary.
    return apart, apart <= limit + 1e-9
