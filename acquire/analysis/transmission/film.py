"""What a film alone lets through: the coated slide over the blank, never a difference of percents.

    T_film = T_sample / T_blank,   A_film = -log10 T_film,   blocking = 1 - T_film

The slide's own losses cancel in the ratio. For a film of about the slide's index the light that
goes to and fro between the faces makes an error below 0.1 % absolute
(`acquire.analysis.transmission.slab`). A ratio above 1 is possible and stays, with a negative
absorbance and blocking. Pure; any thread.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from acquire.analysis.transmission.beam import Number

LEAST_BLANK = 0.10
"""Below this the blank passes too little light for a ratio, as a glass slide does below its
cut-off. A setting (common practice, no source)."""


class FilmValue(NamedTuple):
    """`transmittance` and `blocking` parts of 1. `absorbance` (decadic) is None where no light came
    through: then it lies above what the head can see, and no figure stands for it."""

    transmittance: float
    absorbance: float | None
    blocking: float


def film_ratio(sample: Number, blank: Number, *, least_blank: float = LEAST_BLANK) -> Number:
    """T_sample / T_blank. Raises ValueError where the blank lets less than `least_blank` through.

    For single figures, with or without uncertainty; spectra have a function of their own, which
    leaves such points out.
    """
    level = float(getattr(blank, "nominal_value", blank))
    if not level >= least_blank > 0:
        raise ValueError(
            f"the blank lets only {100 * level:.3g} % through, less than {100 * least_blank:g} %: "
            "what the film does cannot be told there. Next: coat a slide that is clear in this "
            "band (fused silica in the ultraviolet)"
        )
    return sample / blank


def absorbance(transmittance: float) -> float | None:
    """-log10 T, negative above 1; None where T is not above 0. Raises ValueError if not finite."""
    if not math.isfinite(transmittance):
        raise ValueError(f"a finite transmittance is wanted, got {transmittance}")
    # The plus makes 0 of the minus 0 that log10 of 1 would give.
    return -math.log10(transmittance) + 0.0 if transmittance > 0 else None


def absorbance_u(transmittance: float, u: float) -> float | None:
    """Standard uncertainty of the absorbance, u(T)/(T ln 10) (GUM 5.1.2); None where it has none.

    First order in u: beyond a tenth of T the interval of the transmittance itself is the better
    statement, so None is given there, too.
    """
    if not 0 <= u <= 0.1 * transmittance:
        return None
    return u / (transmittance * math.log(10)) if transmittance > 0 else None


def film(sample: float, blank: float, *, least_blank: float = LEAST_BLANK) -> FilmValue:
    """The film from one coated slide and one blank; raises as `film_ratio` and `absorbance`."""
    ratio = film_ratio(sample, blank, least_blank=least_blank)
    return FilmValue(ratio, absorbance(ratio), 1 - ratio)


def thicker(internal: float, thickness: float, wanted: float) -> float:
    """Internal transmittance at another thickness (same unit): tau^(d2/d1) (Bouguer, Lambert).

    Raises ValueError for a tau below 0 or above 1 or a thickness that is not above zero.
    """
    if not 0 <= internal <= 1:
        raise ValueError(f"an internal transmittance from 0 to 1 is wanted, got {internal}")
    if not (thickness > 0 and wanted > 0):
        raise ValueError(f"thicknesses above zero are wanted, got {thickness} and {wanted}")
    return float(internal ** (wanted / thickness))
