"""What plain glass and clear films let through at normal incidence, faces reflecting incoherently.

A sheet many wavelengths thick shows no interference, so intensities add up. With R of one face
(Fresnel) and the internal transmittance tau

    T = (1 - R)^2 tau / (1 - R^2 tau^2)

which is 2n/(n^2 + 1) for a clear sheet. Any optics textbook. Pure; any thread.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from acquire.fresnel import reflectance


class Slab(NamedTuple):
    """Parts of 1. `first_pass` is without the light that goes to and fro between the faces."""

    one_face: float
    internal: float
    transmittance: float
    first_pass: float


def internal_transmittance(k: float, wavelength_nm: float, thickness_mm: float) -> float:
    """exp(-4 pi k d / lambda) of a body with extinction index `k`.

    Raises ValueError for a negative k, or lengths that are not above zero.
    """
    if not (k >= 0 and wavelength_nm > 0 and thickness_mm > 0 and math.isfinite(k)):
        raise ValueError(
            "an extinction index from 0 and lengths above zero are wanted, got "
            f"k = {k}, {wavelength_nm} nm, {thickness_mm} mm"
        )
    return math.exp(-4 * math.pi * k * thickness_mm * 1e6 / wavelength_nm)


def slab(n: float, internal: float = 1.0) -> Slab:
    """A sheet of index `n` in air. Raises ValueError for n below 1 or `internal` not 0 to 1."""
    if not 0 <= internal <= 1:
        raise ValueError(f"an internal transmittance from 0 to 1 is wanted, got {internal}")
    r = reflectance(n, 0)
    once = (1 - r) ** 2 * internal
    return Slab(r, internal, once / (1 - (r * internal) ** 2), once)


def film_on_slide(n_film: float, n_slide: float, internal: float = 1.0) -> float:
    """T of a slide with a thick film on one face; `internal` is that of the film.

    The three faces are air to film, film to slide, slide to air; the light to and fro in film
    and slide is all counted. Raises ValueError as `slab`.
    """
    if not 0 <= internal <= 1:
        raise ValueError(f"an internal transmittance from 0 to 1 is wanted, got {internal}")
    between = reflectance(max(n_film, n_slide) / min(n_film, n_slide), 0)
    outer, inner = reflectance(n_film, 0), reflectance(n_slide, 0)
    # The film with its two faces, seen from air and from the slide.
    fan = 1 - outer * between * internal**2
    through = (1 - outer) * internal * (1 - between) / fan
    back = between + (1 - between) ** 2 * internal**2 * outer / fan
    return through * (1 - inner) / (1 - back * inner)
