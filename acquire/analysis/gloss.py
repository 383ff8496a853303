"""Specular gloss: the angle that suits it, what is left of it, and the scale of tile and trap.

Gloss in gloss units (GU) is 100 times the light a surface reflects in the mirror direction over
that of polished black glass of refractive index 1.567 (587.6 nm) at the same angle
(ISO 2813:2014, 3.3; ASTM D523-14, 3.1). A value without its angle means nothing. Pure; any thread.
"""

from __future__ import annotations

from typing import NamedTuple


def geometry_advice(gloss_60: float) -> str:
    """The angle (``"20"``, ``"60"``, ``"85"``) that separates surfaces of this gloss best.

    By the reading at 60 degrees: above 70 GU 20 degrees, below 10 GU 85 degrees (ASTM D523-14,
    4.1.1 to 4.1.3). Exactly 70 and exactly 10 stay at 60 degrees. Advice, never a bar.
    """
    if gloss_60 > 70:
        return "20"
    if gloss_60 < 10:
        return "85"
    return "60"


class Retention(NamedTuple):
    """What is left of a gloss: in percent of before, and the change in GU and percent."""

    percent: float
    change: float
    change_percent: float


def retention(before: float, after: float) -> Retention | None:
    """100 after / before, and the change. None where `before` is not above zero."""
    if not before > 0:
        return None
    return Retention(100 * after / before, after - before, 100 * (after - before) / before)


def two_point_scale(
    assigned: float, tile_reading: float, zero_reading: float, sample_reading: float
) -> float:
    """A reading put on the scale of a tile (`assigned`, GU) and a black trap (0 GU).

    assigned (sample - zero) / (tile - zero). Raises ValueError where tile and zero read the same.
    """
    if tile_reading == zero_reading:
        raise ValueError(
            f"tile and black trap both read {tile_reading:g} GU: no scale between them"
        )
    return assigned * (sample_reading - zero_reading) / (tile_reading - zero_reading)
