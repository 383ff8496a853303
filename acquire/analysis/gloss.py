"""Specular gloss: what the angle and the refractive index make of it, and simple corrections.

Gloss in gloss units (GU) is 100 times the light a surface reflects in the mirror direction over
that of polished black glass of refractive index 1.567 (587.6 nm) at the same angle
(ISO 2813:2014, 3.3; ASTM D523-14, 3.1). A value without its angle means nothing. Pure; any thread.
"""

from __future__ import annotations

from typing import NamedTuple

from acquire.analysis.root import crossing
from acquire.fresnel import REFERENCE_INDEX, fresnel, reflectance

__all__ = [
    "LARGEST_ANGLE_DEG",
    "LARGEST_INDEX",
    "REFERENCE_INDEX",
    "Retention",
    "TileCheck",
    "check_tile",
    "drift_corrected",
    "fresnel",
    "geometry_advice",
    "index_from_gloss",
    "reflectance",
    "retention",
    "two_point_scale",
]

LARGEST_INDEX = 1.9
LARGEST_ANGLE_DEG = 85.0
"""Inversion is offered up to these. Gloss rises with the index up to here (at 85 degrees it turns
round at 1.93), so that the answer is the only one; clear coats and films lie well below."""


def index_from_gloss(gloss: float, angle_deg: float, n_ref: float = REFERENCE_INDEX) -> float:
    """The index of the polished surface that reads `gloss` (GU) at `angle_deg`.

    Raises ValueError where no index from 1 to 1.9 does, or for an angle above 85 degrees.
    """
    if angle_deg > LARGEST_ANGLE_DEG:
        raise ValueError(f"an angle up to {LARGEST_ANGLE_DEG:g} degrees is wanted, got {angle_deg}")
    most = fresnel(LARGEST_INDEX, angle_deg, n_ref)
    if not 0 <= gloss <= most:
        raise ValueError(
            f"no refractive index from 1 to {LARGEST_INDEX:g} reads {gloss:g} GU at "
            f"{angle_deg:g}°; the range is 0 to {most:.1f} GU"
        )
    return crossing(lambda n: fresnel(n, angle_deg, n_ref) - gloss, 1.0, LARGEST_INDEX)


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


def drift_corrected(
    assigned: float, tile_before: float, tile_after: float, position: float, reading: float
) -> float:
    """A reading corrected for the drift of a tile's reading, in proportion to the tile.

    `position` is where the reading lies between the two readings of the tile, 0 to 1: by time, or
    k/(N+1) for the k-th of N evenly spaced readings. The meter's scale is taken to drift linearly.
    Raises ValueError outside 0 to 1 (no extrapolation), or where the tile would read 0.
    """
    if not 0 <= position <= 1:
        raise ValueError(f"a position from 0 to 1 between the checks is wanted, got {position}")
    tile = tile_before + (tile_after - tile_before) * position
    if tile == 0:
        raise ValueError("the tile reads 0 GU there: no scale to correct by")
    return reading * assigned / tile


class TileCheck(NamedTuple):
    """How far a tile reads from its assigned value, and whether that is inside the limit."""

    difference: float
    is_inside: bool


def check_tile(assigned: float, reading: float, tolerance: float) -> TileCheck:
    """Compare a tile with its assigned value; exactly on the limit counts as inside.

    The bare comparison, without the uncertainty of the check: the gate judges with a guard band
    (`acquire.calibration`).
    """
    difference = reading - assigned
    # 53.6 - 52.6 is not 1 in binary; a billionth of a GU is no difference.
    return TileCheck(difference, abs(difference) <= tolerance + 1e-9)
