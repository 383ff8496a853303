"""Films over wavelength: every band that the stored spectra cover, for each treatment.

The spectra of the readings that count, less what left them with the readings (voids, suspects).
Scatter comes from the spectra themselves; what display, checks and drift add is known in the bands
that are checked alone, and is taken from there in relative terms; a bend of the scale by what the
slides let through in each band. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from acquire.analysis.budget.reach import reach_of
from acquire.analysis.budget.uncertainty import CONFIDENCE, Distribution, Kind, Term, total_bias
from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.meter.bentreadings import BEND
from acquire.analysis.meter.straylight import STRAY_LIGHT, part_of
from acquire.analysis.scale import PERCENT
from acquire.analysis.specimens.scatter import SCATTER_BY_STUDY, SCATTER_IN
from acquire.analysis.transmission.definition import Definition
from acquire.analysis.transmission.lamp import bell_lamp
from acquire.analysis.transmission.pairs import BandFilm, Sides, Slide, bend_pull, film_in, sides_of
from acquire.analysis.transmission.spectrum import Spectrum
from acquire.analysis.transmission.weights import standard_definitions
from acquire.report.evidence.beamwords import reduced_words
from acquire.report.evidence.evidence import Evidence
from acquire.report.record.beams import Reduction
from acquire.report.record.record import ReadingRecord, Standing, TrialRecord
from acquire.report.record.spectra import SpectrumRecord, is_one_grid, points_of

_OF_SCATTER = (SCATTER_IN, SCATTER_BY_STUDY, "spread of ")


@dataclass(frozen=True, slots=True)
class FilmBand:
    """One treatment in one band. `half_width` is that of its own interval of 95 %, symmetric.

    It is None where `film` has no value or `lacking` says why there is no uncertainty.
    """

    film: BandFilm
    half_width: float | None


@dataclass(frozen=True, slots=True)
class TreatmentFilm:
    """One treatment at one stage in all bands, in the order of the definitions."""

    treatment: str
    sides: Sides
    bands: tuple[FilmBand, ...]


@dataclass(frozen=True, slots=True)
class StageFilms:
    """All treatments of a stage that have spectra; `why_not` says by id what others lack."""

    stage: str
    films: tuple[TreatmentFilm, ...]
    why_not: tuple[tuple[str, str], ...]
    made_by: tuple[str, ...] = ()
    """By what counts became transmittances, and what stray light was taken off, in words."""


def stage_films(record: TrialRecord, evidence: Evidence, stage: str) -> StageFilms | None:
    """The films at a stage; None where no reading of the measure there has a spectrum."""
    if not (evidence.scale.is_ratio and record.spectra):
        return None
    stray = evidence.measure.stray_light
    reduction = Reduction(record.beams, None if stray is None else part_of(stray))
    found = {z.id: _slide(record, evidence, reduction, z.id, stage) for z in record.plan.zones}
    if not (any(slide.after for slide in found.values()) or reduction.lacking):
        return None
    control = evidence.result.control
    by_treatment: dict[str, list[Slide]] = {}
    for zone in record.plan.zones:
        slide = found[zone.id]
        is_whole = bool(slide.after) and (bool(slide.bare) or _is_direct(evidence))
        by_treatment.setdefault(zone.treatment, []).extend([slide] if is_whole else [])
    grid = _first(record, evidence)
    wanted = _definitions(evidence, grid)
    films, why_not = [], []
    for c in evidence.ranked(stage):
        try:
            sides = sides_of(by_treatment.get(c.treatment, ()), by_treatment.get(control, ()))
        except ValueError as error:
            why_not.append((c.treatment, str(error)))
            continue
        shared = _shared(c, reduction) if isinstance(c, Comparison) else _Shared()
        bands = tuple(_band(sides, d, shared) for d in wanted)
        films.append(TreatmentFilm(c.treatment, sides, bands))
    said = tuple(reduced_words(reduction, evidence.measure.stray_light))
    return StageFilms(evidence.named(stage), tuple(films), tuple(why_not), said)


def _is_direct(evidence: Evidence) -> bool:
    return evidence.result.basis.blanks is not None


def _slide(
    record: TrialRecord, evidence: Evidence, reduction: Reduction, zone: str, stage: str
) -> Slide:
    bare = evidence.result.bare

    def at(where: str) -> list[tuple[ReadingRecord, SpectrumRecord]]:
        return [
            (r, record.spectra[r.id])
            for r in evidence.readings
            if (r.zone, r.stage) == (zone, where)
            and r.standing is Standing.COUNTS
            and r.id in record.spectra
        ]

    before = [] if _is_direct(evidence) else at(bare)
    after = at(stage)
    if not is_one_grid([s for _, s in (*before, *after)]):
        # Told by `sides_of` where they meet: a mean over grids is none.
        return Slide(zone, (), ())

    def made(several: Sequence[tuple[ReadingRecord, SpectrumRecord]]) -> tuple[Spectrum, ...]:
        found = (reduction.of(r, s) for r, s in several)
        return tuple(s for s in found if s is not None)

    return Slide(zone, made(before), made(after))


def _first(record: TrialRecord, evidence: Evidence) -> SpectrumRecord:
    return next(record.spectra[r.id] for r in evidence.readings if r.id in record.spectra)


def _definitions(evidence: Evidence, grid: SpectrumRecord) -> tuple[Definition, ...]:
    """What the readings are means of, by channel; the lamps of the plan; all standard ones."""
    own = [d for channel in evidence.measure.channels if (d := points_of(channel, grid))]
    names = {d.name for d in own}
    lamps = [bell_lamp(float(x.centre_nm), float(x.width_nm)) for x in evidence.measure.lamps]
    return (*own, *lamps, *(d for d in standard_definitions() if d.name not in names))


class _Shared(NamedTuple):
    """What display, checks and drift add: standard uncertainty and known shift, relative.

    `bend_u` and `bend` are the same of the scale's bend in its middle, in parts of the beam: what
    it does to a film goes by what the slides let through in each band.
    """

    u: float = 0.0
    shift: float = 0.0
    bend_u: float = 0.0
    bend: float = 0.0


def _shared(c: Comparison, reduction: Reduction) -> _Shared:
    """The shift is the drift, which counts between two open beams no longer have.

    Stray light is taken off the spectra themselves, which have its doubt.
    """
    not_here = (*_OF_SCATTER, STRAY_LIGHT, BEND)
    u = math.hypot(*(t.contribution for t in c.budget.terms if not t.name.startswith(not_here)))
    left = [b for b in c.budget.biases if not b.name.startswith((STRAY_LIGHT, BEND))]
    bends = [b.found for b in c.budget.biases if b.name.startswith(BEND)]
    return _Shared(
        u,
        0.0 if reduction.takes_off_drift else abs(total_bias(left)),
        max((t.u for t in c.budget.terms if t.name.startswith(BEND)), default=0.0) / PERCENT,
        max(bends, key=abs, default=0.0) / PERCENT,
    )


def _band(sides: Sides, definition: Definition, shared: _Shared) -> FilmBand:
    film = film_in(sides, definition)
    if film.value is None or film.lacking:
        return FilmBand(film, None)
    pull = bend_pull(sides, definition)
    if pull is None:
        # A slide that is dark in the band: the most that a bend does to any film.
        pull = 4.0
    terms = [*film.terms, Term(
        "display, checks and drift, as in the band that was checked", Kind.B, shared.u, math.inf,
        film.value, Distribution.NORMAL, "Relative, from the budget of the readings.",
    ), Term(
        BEND, Kind.B, shared.bend_u, math.inf, pull * film.value, Distribution.NORMAL,
        "From the budget of the readings, by what the slides let through in this band.",
    )]  # fmt: skip
    if not any(t.contribution > 0 for t in terms):
        return FilmBand(film, None)
    shift = shared.shift + abs(shared.bend * pull)
    half = reach_of(terms).half_width(1 - CONFIDENCE) + abs(shift * film.value)
    return FilmBand(film, half)


def bands_with_value(films: Sequence[TreatmentFilm]) -> list[int]:
    """The places of the bands in which at least one of the films has a value."""
    if not films:
        return []
    return [
        k
        for k in range(len(films[0].bands))
        if any(f.bands[k].film.value is not None for f in films)
    ]
