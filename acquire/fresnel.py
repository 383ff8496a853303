"""What a smooth clear surface reflects, and the gloss that makes (Fresnel; ISO 2813). Pure.

Gloss in gloss units (GU) is 100 times the light a surface reflects in the mirror direction over
that of polished black glass of refractive index 1.567 (587.6 nm) at the same angle
(ISO 2813:2014, 3.3; ASTM D523-14, 3.1).
"""

from __future__ import annotations

import math

REFERENCE_INDEX = 1.567
"""Refractive index of the glass that reads 100 GU at every angle (ISO 2813)."""

REFERENCE_WAVELENGTH_NM = 587.6
"""The helium d line, at which that index is told (ISO 2813)."""

LARGEST_INDEX = 1.9
LARGEST_ANGLE_DEG = 85.0
"""Inversion is offered up to these. Gloss rises with the index up to here (at 85 degrees it turns
round at 1.93), so that the answer is the only one; clear coats and films lie well below."""


def reflectance(n: float, angle_deg: float) -> float:
    """The part of unpolarised light that a smooth surface of index `n` reflects, 0 to 1.

    Fresnel's equations for a clear, uncoated body in air, angle of incidence in degrees from the
    normal, at least 0 and below 90. Raises ValueError outside, or for an index below 1.
    """
    if not 0 <= angle_deg < 90:
        raise ValueError(f"an angle from 0 to below 90 degrees is wanted, got {angle_deg}")
    if not (n >= 1 and math.isfinite(n)):
        raise ValueError(f"a refractive index of 1 or more is wanted, got {n}")
    incident = math.radians(angle_deg)
    cos_i = math.cos(incident)
    cos_t = math.sqrt(1 - (math.sin(incident) / n) ** 2)
    across = (cos_i - n * cos_t) / (cos_i + n * cos_t)
    along = (n * cos_i - cos_t) / (n * cos_i + cos_t)
    return (across**2 + along**2) / 2


def fresnel(n: float, angle_deg: float, n_ref: float = REFERENCE_INDEX) -> float:
    """Gloss (GU) of a perfectly polished surface of index `n` at `angle_deg`.

    The upper bound of what a smooth film of that index can read: a clear film of lower index
    lowers the gloss of a smooth clearcoat, and a rise means a smoother or cleaner surface.
    """
    return 100 * reflectance(n, angle_deg) / reflectance(n_ref, angle_deg)


def index_from_gloss(gloss: float, angle_deg: float, n_ref: float = REFERENCE_INDEX) -> float:
    """The index of the polished surface that reads `gloss` (GU) at `angle_deg`, by halving.

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
    low, high = 1.0, LARGEST_INDEX
    while low < (middle := (low + high) / 2) < high:
        low, high = (middle, high) if fresnel(middle, angle_deg, n_ref) < gloss else (low, middle)
    return high


def largest_gloss(angle_deg: float) -> float:
    """Gloss (GU) of a mirror that sends back all light: more is impossible at this angle."""
    return 100 / reflectance(REFERENCE_INDEX, angle_deg)
