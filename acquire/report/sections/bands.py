"""Films in all bands that their spectra cover, as a table and as curves. Pure; any thread."""

from __future__ import annotations

from typing import NamedTuple

from acquire.analysis.figures import rounded
from acquire.analysis.scale import PERCENT
from acquire.report.answers.standings import late_of
from acquire.report.evidence.evidence import Evidence
from acquire.report.evidence.filmspectra import FilmBand, StageFilms, bands_with_value, stage_films
from acquire.report.plots.curves import film_plot
from acquire.report.plots.paper import SCREEN, Paper
from acquire.report.record.record import TrialRecord
from acquire.report.sections.gallery import MOST_PORTIONS, Drawing, Gallery
from acquire.report.words.wording import listed

NONE = "–"
_RULE = " Steps wider than"
_NEXT = "or ask for a band that was measured."


class BandRow(NamedTuple):
    """One band with its weights; a text for each treatment, and what a band meter would say."""

    name: str
    films: tuple[str, ...]
    as_meter: tuple[str, ...]


class BandTable(NamedTuple):
    """One stage. `names` are the treatments; `gaps` what has no value, or not all, and why.

    `gap_rule` says what counts as a gap, empty without one. `made_by` says by what a head's counts
    became transmittances, and what stray light was taken off; empty where neither was.
    """

    stage: str
    names: tuple[str, ...]
    rows: tuple[BandRow, ...]
    gaps: tuple[str, ...]
    gap_rule: str
    made_by: tuple[str, ...]


class FilmBands(NamedTuple):
    """All of it; empty where no spectrum was stored."""

    tables: tuple[BandTable, ...]
    curves: Gallery


def film_bands(record: TrialRecord, evidence: Evidence, paper: Paper = SCREEN) -> FilmBands:
    """The tables of each stage, and a drawing for each treatment of the last one.

    Spectra are those of a press and not of a band, so a measure of several channels has them with
    its first one.
    """
    nothing = FilmBands((), Gallery((), ""))
    if evidence.channel != (evidence.measure.channels or ("",))[0]:
        return nothing
    found = [
        films
        for stage in evidence.read_stages
        if stage != evidence.result.bare
        and (films := stage_films(record, evidence, stage)) is not None
    ]
    if not found:
        return nothing
    tables = tuple(_table(record, evidence, films) for films in found)
    last = found[-1].films[:MOST_PORTIONS]
    drawings = tuple(
        Drawing(
            f"{record.name_of(f.treatment)}, {found[-1].stage}",
            film_plot(
                f.sides,
                f"{record.name_of(f.treatment)} over wavelength: {evidence.title}",
                paper,
                _late(record, evidence, found[-1], f.treatment),
            ),
        )
        for f in last
    )
    rest = len(found[-1].films) - len(last)
    return FilmBands(tables, Gallery(drawings, f"{rest} more are not drawn." if rest else ""))


def _late(record: TrialRecord, evidence: Evidence, films: StageFilms, treatment: str) -> str:
    """The mark of a film that was read too late, or whose blanks were."""
    stage = next(s for s in evidence.read_stages if evidence.named(s) == films.stage)
    return late_of(record, evidence, stage, (treatment, evidence.result.control))


def _table(record: TrialRecord, evidence: Evidence, films: StageFilms) -> BandTable:
    kept = bands_with_value(films.films)
    late = {f.treatment: _late(record, evidence, films, f.treatment) for f in films.films}
    rows = tuple(
        BandRow(
            films.films[0].bands[k].film.definition.name,
            tuple(f"{_text(f.bands[k])} {late[f.treatment]}".rstrip() for f in films.films),
            tuple(_meter(f.bands[k]) for f in films.films),
        )
        for k in kept
    )
    notes: dict[str, list[str]] = {}
    for f in films.films:
        for band in f.bands:
            for said in filter(None, (band.film.note, _lacking(band))):
                notes.setdefault(said, []).append(record.name_of(f.treatment))
    all_names = [record.name_of(f.treatment) for f in films.films]
    said_once = [t for t in notes if _RULE in t]
    notes = _shortened(notes)
    gaps = [
        said if names == all_names else f"{listed(names)}: {said}" for said, names in notes.items()
    ]
    gaps += [f"{record.name_of(t)} is left out: {why}." for t, why in films.why_not]
    rule = (
        _RULE.strip() + said_once[0].partition(_RULE)[2].partition(_NEXT)[0] + _NEXT
        if said_once
        else ""
    )
    return BandTable(films.stage, tuple(all_names), rows, tuple(gaps), rule, films.made_by)


def _shortened(notes: dict[str, list[str]]) -> dict[str, list[str]]:
    """Notes without the rule of steps and the next step, which are said once for all."""
    found: dict[str, list[str]] = {}
    for said, names in notes.items():
        what, rule, rest = said.partition(_RULE)
        dim = rest.partition(_NEXT)[2] if rule else ""
        found.setdefault(f"{what}{dim}", []).extend(names)
    return found


def _lacking(band: FilmBand) -> str:
    lacking = band.film.lacking
    return f"No uncertainty, because {lacking}." if lacking else ""


def _text(band: FilmBand) -> str:
    value = band.film.value
    if value is None:
        return NONE
    if band.half_width is None:
        return rounded(PERCENT * value, None)
    half = PERCENT * band.half_width
    return f"{rounded(PERCENT * value, half)} ± {rounded(half, half)}"


def _meter(band: FilmBand) -> str:
    if band.film.as_meter is None:
        return NONE
    place = None if band.half_width is None else PERCENT * band.half_width
    return rounded(PERCENT * band.film.as_meter, place)
