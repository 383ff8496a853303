"""A film from slides read bare and coated as spectra, less what the control did: any band.

At each point the ratio of every slide to itself when bare is taken, then the mean over the slides
of the treatment over that of the control; the band's mean comes last, so it is the film's own and
not that of the slide's light. What a band meter would have said, the ratio of band values, stands
beside it (`as_meter`): that is what readings of the band are judged by. What one spectrum, or one
slide where both sides have several, does to the result goes through the same formula in first
order, so scatter and degrees of freedom are those of the spectra and not of the points. What the
spectra themselves owe to a dark, an open beam or stray light stands beside it. Nothing is
extrapolated. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from acquire.analysis.budget.uncertainty import Distribution, Kind, Term
from acquire.analysis.transmission.bandvalue import band_value
from acquire.analysis.transmission.coverage import cover
from acquire.analysis.transmission.definition import Definition, Vector
from acquire.analysis.transmission.film import LEAST_BLANK
from acquire.analysis.transmission.slides import Pull, scatter_of_slides, standard_error
from acquire.analysis.transmission.slidespectra import too_dim
from acquire.analysis.transmission.spectrum import Spectrum, film_spectrum, mean_spectrum


class Slide(NamedTuple):
    """The spectra of one slide, coated and before; `bare` is empty where none was read so."""

    zone: str
    bare: tuple[Spectrum, ...]
    after: tuple[Spectrum, ...]


@dataclass(frozen=True, slots=True)
class BandFilm:
    """A film's transmittance in a band (part of 1), point by point.

    `value` is None where too little of the band was measured, or the blank is too dim; `note` says
    what is missing, empty where nothing is. `as_meter` is the ratio of band values, None where one
    has none. `terms` are the lines of the scatter, in units of the value; `lacking` says why there
    are none.
    """

    definition: Definition
    value: float | None
    as_meter: float | None
    terms: tuple[Term, ...]
    lacking: str
    note: str


class Sides(NamedTuple):
    """Both sides made ready: one ratio to itself a slide, their means, and the film.

    `means` has the mean of the spectra of each slide, bare and coated, which every band asks for.
    """

    treated: tuple[Slide, ...]
    control: tuple[Slide, ...]
    own: tuple[Spectrum, ...]
    blank: tuple[Spectrum, ...]
    film: Spectrum
    control_mean: Spectrum
    means: Mapping[tuple[Spectrum, ...], Spectrum]


def sides_of(
    treated: Sequence[Slide], control: Sequence[Slide], *, least_blank: float = LEAST_BLANK
) -> Sides:
    """Make slides ready for any band; one slide a side at least, each with a spectrum.

    All slides have a bare spectrum or none has: then the control's slides are blanks of the same
    box. Raises ValueError for different grids, a side without slides, or a mixture of both.
    """
    if not (treated and control):
        raise ValueError("a slide of the treatment and one of the control are wanted")
    if len({bool(slide.bare) for slide in (*treated, *control)}) > 1:
        raise ValueError("either all slides were read bare or none: got some of both")
    several = (s for slide in (*treated, *control) for s in (slide.bare, slide.after) if s)
    means = {spectra: mean_spectrum(spectra) for spectra in several}
    own = tuple(_to_itself(s, means, least_blank) for s in treated)
    blank = tuple(_to_itself(s, means, least_blank) for s in control)
    below = mean_spectrum(blank)
    film = film_spectrum(mean_spectrum(own), below, least_blank=least_blank)
    return Sides(tuple(treated), tuple(control), own, blank, film, below, means)


def film_in(sides: Sides, definition: Definition) -> BandFilm:
    """The film in one band."""
    found = band_value(sides.film, definition)
    as_meter = _as_meter(sides, definition)
    if found.value is None:
        return BandFilm(definition, None, as_meter, (), "", found.note + _dim(sides, definition))
    factors = cover(sides.film.wavelength_nm, definition, sides.film.is_there).factors
    terms, lacking = _terms(sides, factors)
    terms += tuple(
        Term(
            name, Kind.B, u, math.inf, 1.0, Distribution.NORMAL,
            "Of several spectra at once; what of it the ratio cancels is taken off.",
        )
        for name, u in found.parts.items()
        if u > 0
    )  # fmt: skip
    return BandFilm(definition, found.value, as_meter, terms, lacking, found.note)


def _to_itself(
    slide: Slide, means: Mapping[tuple[Spectrum, ...], Spectrum], least_blank: float
) -> Spectrum:
    # Of a slide without spectra `mean_spectrum` says so.
    after = means[slide.after] if slide.after else mean_spectrum(slide.after)
    if not slide.bare:
        return after
    return film_spectrum(after, means[slide.bare], least_blank=least_blank)


def _dim(sides: Sides, definition: Definition) -> str:
    """Whether it is the blanks that leave a gap."""
    blanks = [slide.bare for slide in (*sides.treated, *sides.control)]
    if not all(blanks):
        blanks = [slide.after for slide in sides.control]
    return next(filter(None, (too_dim(definition, sides.means[b]) for b in blanks)), "")


def _as_meter(sides: Sides, definition: Definition) -> float | None:
    """The ratio of band values, means over slides as the readings are judged (geometric)."""
    return None if (found := _in_band(sides, definition, math.log)) is None else math.exp(found)


def bend_pull(sides: Sides, definition: Definition) -> float | None:
    """What a bend of 1 (part of the beam) in a scale's middle does to ln of the ratio in a band.

    4 T (1 - T) over T of each band value (`acquire.analysis.checks.bend`), with the sign of its
    side. None where a slide has no band value.
    """
    return _in_band(sides, definition, lambda value: 4 * (1 - value))


def _in_band(sides: Sides, definition: Definition, of: Callable[[float], float]) -> float | None:
    """A figure of each slide's band value, coated less bare, treated less control."""
    total = 0.0
    for sign, slides in ((1, sides.treated), (-1, sides.control)):
        for slide in slides:
            for part, spectra in ((1, slide.after), (-1, slide.bare)):
                if not spectra:
                    continue
                value = band_value(sides.means[spectra], definition).value
                if value is None or not value > 0:
                    return None
                total += sign * part * of(value) / len(slides)
    return total


def _terms(sides: Sides, factors: Vector) -> tuple[tuple[Term, ...], str]:
    film = sides.film
    is_there = film.is_there
    under = np.where(is_there, sides.control_mean.values, 1.0)
    through = np.where(is_there, factors / under, 0.0)
    on_film = through * film.values
    if not sides.treated[0].bare:
        own = tuple(float(through @ s.values) for s in sides.own)
        blanks = tuple(float(on_film @ s.values) for s in sides.blank)
        if len(blanks) < 2:
            return (), "one blank does not show by how much blanks differ"
        over = np.where(is_there, sides.own[0].values / under, 0.0)
        lone = (tuple(float(through * over @ s.values) for s in sides.blank),)
        return tuple(scatter_of_slides(Pull((own,), blanks, lone if len(own) == 1 else ()))), ""
    if min(len(sides.own), len(sides.blank)) > 1:
        return (
            _line("spread of the slides", [float(through @ s.values) for s in sides.own]),
            _line("spread of the control's", [float(on_film @ s.values) for s in sides.blank]),
        ), ""
    terms = []
    for slides, ratios, weights in (
        (sides.treated, sides.own, through),
        (sides.control, sides.blank, on_film),
    ):
        for slide, ratio in zip(slides, ratios, strict=True):
            share = weights * np.where(is_there, ratio.values, 0.0) / len(slides)
            for stage, spectra in (("bare", slide.bare), ("coated", slide.after)):
                if len(spectra) < 2:
                    return (), f"{slide.zone} was read once, so its scatter is unknown"
                mean = sides.means[spectra].values
                by = np.divide(share, mean, out=np.zeros_like(share), where=mean != 0)
                moved = [float(by @ s.values) for s in spectra]
                terms.append(_line(f"scatter of {slide.zone}, {stage}", moved))
    return tuple(terms), ""


def _line(name: str, moved: Sequence[float]) -> Term:
    return Term(
        name, Kind.A, standard_error(np.array(moved)), len(moved) - 1, 1.0, Distribution.NORMAL,
        f"Standard deviation over the root of {len(moved)}, as it moves the result.",
    )  # fmt: skip
