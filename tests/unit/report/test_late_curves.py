"""Films over wavelength and pulls over time say which of them were read on another surface."""

from __future__ import annotations

from pathlib import Path

from acquire.report.evidence.evidence import evidence_of
from acquire.report.film.moments import moments_of, stretches_of
from acquire.report.record.loading import load_trial
from acquire.report.sections.bands import film_bands
from acquire.report.sections.pulls import pull_parts
from tests.streamed import StreamYard, drawn_pull
from tests.unit.report.test_frictions import SLED, TRIAL
from tests.unit.report.test_spectra import SpectralHead

LATE = "TOO LATE"
PULLS = TRIAL.replace('title = "Peaks', 'unchecked = true\ntitle = "Peaks').replace(
    "replicates = 3", "replicates = 1"
)


def films_read(folder: Path, *stages: str) -> Path:
    yard = SpectralHead(folder)
    yard.plug("head")
    for stage in stages:
        yard.spectra(stage, films=stage == "cured")
    yard.close()
    return yard.bench.store


def test_a_film_whose_bare_slide_was_read_too_late_says_so_at_each_band_and_curve(
    tmp_path: Path,
) -> None:
    for folder, stages, mark in (
        ("in-time", ("bare", "cured"), ""),
        ("late", ("cured", "bare"), LATE),
    ):
        (tmp_path / folder).mkdir()
        record = load_trial(films_read(tmp_path / folder, *stages), "three")
        (light,) = [e for e in evidence_of(record) if e.measure.id == "light"]
        found = film_bands(record, light)
        told = [text for table in found.tables for row in table.rows for text in row.films]
        assert told
        assert all(text.endswith(f" {LATE}") == bool(mark) for text in told)
        assert len(found.curves.drawings) == 2
        assert all(d.svg.count(f">{LATE}</text>") == bool(mark) for d in found.curves.drawings)


def test_captions_of_a_film_read_too_late_say_so_and_chapters_stand_where_runs_began(
    tmp_path: Path,
) -> None:
    record = load_trial(films_read(tmp_path, "cured", "bare"), "three")
    (light,) = [e for e in evidence_of(record) if e.measure.id == "light"]
    said = [m.text for m in moments_of(record, [light])]
    # The control's slide is the same surface bare and cured; six bare readings of the two others
    # and their means were late, and both verdicts rest on them.
    marked = [text for text in said if text.endswith(f", {LATE}")]
    assert len([t for t in marked if ": mean " not in t and "·" in t]) == 6
    assert len([t for t in marked if ": mean " in t]) == 2
    assert len([t for t in marked if "·" not in t]) == 2
    assert len(said) == 2 * (9 + 3) + 3  # and a head above the verdicts
    chapters = [s.title for s in stretches_of(record, [light])]
    assert [c.rpartition(": ")[2] for c in chapters] == ["cured", "bare"]


def test_a_pull_that_came_too_late_says_so_in_its_line_and_over_its_trace(tmp_path: Path) -> None:
    yard = StreamYard(tmp_path, noise_n=0.0)
    for stage, forces in (("applied", (0.80, 0.40)), ("bare", (0.84, 0.82))):
        yard.begin_slick(stage, PULLS + SLED)
        for force in forces:
            yard.pull(drawn_pull(force, 0.9 * force))
        yard.finish()
    yard.close()
    record = load_trial(yard.bench.store, "peaks")
    evidence = evidence_of(record)
    (part,) = pull_parts(record, evidence)
    # The control is the same surface at both stages.
    assert [(line.zone, line.stage) for line in part.lines if line.note.startswith(LATE)] == [
        ("B", "bare")
    ]
    assert len(part.lines) == 4
    drawn = {d.title: d.svg.count(f">{LATE}</text>") for d in part.drawings.drawings}
    assert drawn == {title: int("zone B, bare" in title) for title in drawn}
    assert set(drawn.values()) == {0, 1}
