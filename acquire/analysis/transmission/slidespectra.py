"""Several coated slides against several blanks, read as spectra: the film in a band.

The ratio to the blanks' mean is taken at each point, and the band's mean of the ratio then. That
is the film's own; a band meter gives the ratio of two band values, which hangs on the slide, too.
The names say which. What one slide does to the result is its deviation through the same formula
(first order), so scatter and degrees of freedom are those of the slides and not of the points.
Dark and open beam that several slides share count once. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from acquire.analysis.budget.uncertainty import Distribution, Kind, Term
from acquire.analysis.transmission.bandvalue import band_value
from acquire.analysis.transmission.coverage import cover
from acquire.analysis.transmission.definition import Definition, Vector
from acquire.analysis.transmission.film import LEAST_BLANK
from acquire.analysis.transmission.reduce import LEAST_COVERED
from acquire.analysis.transmission.slides import FilmResult, Pull, Shown, judged, standard_error
from acquire.analysis.transmission.spectrum import (
    Spectrum,
    difference_spectrum,
    film_spectrum,
    mean_spectrum,
)

POINTWISE = "film point by point"


def film_of_spectra(
    definition: Definition,
    coated: Sequence[Spectrum],
    blanks: Sequence[Spectrum],
    *,
    least_blank: float = LEAST_BLANK,
    least_covered: float = LEAST_COVERED,
) -> FilmResult:
    """The film on `coated` slides against `blanks`, one spectrum a slide, all on one grid.

    Raises ValueError for no spectrum on a side, or for different grids.
    """
    film = mean_spectrum(coated)
    return _result(definition, film, [coated], blanks, 1.0, least_blank, least_covered)


def difference_of_film_spectra(
    definition: Definition,
    first: Sequence[Spectrum],
    second: Sequence[Spectrum],
    blanks: Sequence[Spectrum],
    *,
    least_blank: float = LEAST_BLANK,
    least_covered: float = LEAST_COVERED,
) -> FilmResult:
    """Film on `first` less film on `second`, against the same blanks, which nearly cancel.

    Raises ValueError as `film_of_spectra`.
    """
    less = difference_spectrum(mean_spectrum(first), mean_spectrum(second))
    return _result(definition, less, [first, second], blanks, 0.0, least_blank, least_covered)


def _result(
    definition: Definition,
    over: Spectrum,
    coated: Sequence[Sequence[Spectrum]],
    blanks: Sequence[Spectrum],
    nothing: float,
    least_blank: float,
    least_covered: float,
) -> FilmResult:
    name = f"{definition.name}, {POINTWISE}"
    under = mean_spectrum(blanks)
    film = film_spectrum(over, under, least_blank=least_blank)
    found = band_value(film, definition, least_covered=least_covered)
    if found.value is None:
        why = too_dim(definition, under, least_blank)
        return FilmResult(name, None, None, None, None, Shown.REFUSED, found.note + why)
    factors = cover(film.wavelength_nm, definition, film.is_there).factors
    level = np.where(film.is_there, under.values, 1.0)
    through = factors / level

    def moved(weights: Vector, slides: Sequence[Spectrum]) -> tuple[float, ...]:
        return tuple(float(weights @ s.values) for s in slides)

    lone = [side[0] for side in coated if len(side) == 1]
    pull = Pull(
        tuple(moved(through, side) for side in coated),
        moved(through * film.values, blanks),
        tuple(moved(through * one.values / level, blanks) for one in lone),
    )
    result = judged(
        name, found.value, nothing, pull, _shared(found.parts, coated, blanks),
        standard_error(np.array(moved(through, blanks))),
    )  # fmt: skip
    if not found.note:
        return result
    return FilmResult(
        result.name, result.value, result.blocking, result.absorbance, result.budget,
        result.shown, f"{result.sentence} {found.note}",
    )  # fmt: skip


def _shared(
    parts: Mapping[str, float], coated: Sequence[Sequence[Spectrum]], blanks: Sequence[Spectrum]
) -> list[Term]:
    """A line for each source that more than one slide has: it is in none of the scatters.

    What belongs to one slide alone is in the scatter of the slides already.
    """
    slides = [*(one for side in coated for one in side), *blanks]
    return [
        Term(
            name, Kind.B, u, math.inf, 1.0, Distribution.NORMAL,
            "Of several slides at once; what of it the ratio cancels is taken off.",
        )
        for name, u in parts.items()
        if u > 0 and sum(name in s.doubts or name in s.common for s in slides) > 1
    ]  # fmt: skip


def too_dim(definition: Definition, blank: Spectrum, least_blank: float = LEAST_BLANK) -> str:
    """The sentence that the blanks are too dim in a part of the band; empty where they are not."""
    x = blank.wavelength_nm
    inside = (x >= definition.band.lower_nm) & (x <= definition.band.upper_nm)
    if not (inside & blank.is_there & (blank.values < least_blank)).any():
        return ""
    return (
        f" The blanks let less than {100 * least_blank:g} % through at some of its points; slides "
        "that are clear in the whole band (fused silica in the ultraviolet) would show the film."
    )
