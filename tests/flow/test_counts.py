"""A head that sends raw counts, from its bus to the page: dark, open beam and film by checks."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

from acquire.report import write_report
from acquire.report.evidence.evidence import evidence_of
from acquire.report.evidence.filmspectra import StageFilms, stage_films
from acquire.report.package.recompute import recompute
from acquire.report.package.writing import write_package
from acquire.report.proof.proof import prove
from acquire.report.record.loading import load_trial
from acquire.report.record.record import TrialRecord
from acquire.testkit.maker import Maker

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo-terminals"),
]

BENCH = """
[scenario]
name = "Counts"
seed = 5
[[zone]]
name = "A1"
[[zone]]
name = "A2"
[[zone]]
name = "B1"
treatment = "Tern varnish"
[[zone]]
name = "B2"
treatment = "Tern varnish"
[[piece]]
name = "OPEN"
percent = 100
[[piece]]
name = "DARK"
percent = 0
[[piece]]
name = "N50"
percent = 50
[[device]]
name = "light"
wire = "usbtmc-counts"
serial = "LG-0093"
press_s = 0
"""
FILM, LAMP = 0.4, 0.994
"""What the film lets through of the ultraviolet, and the lamp of what it gave after the run."""


@dataclass
class Told:
    store: Path
    record: TrialRecord
    films: StageFilms


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Told:
    folder = tmp_path_factory.mktemp("counts")
    maker = Maker(folder, folder)
    bench = maker.scenario(BENCH)
    for stage in ("bare", "applied"):
        if stage == "applied":
            for zone in ("B1", "B2"):
                bench.do(f"zone {zone} film.315-400={FILM}")
        assert bench.check("light")["outcome"] == "pass"
        bench.advance(1)
        bench.begin_run("light", stage=stage)
        for zone in ("A1", "A2", "B1", "B2"):
            bench.advance(1)
            bench.put("light", zone)
            for _ in range(3):
                assert {row["role"] for row in bench.press("light")} == {"run"}
        bench.client.call("finish_run")
        bench.advance(1)
        bench.do(f"drift light gain={LAMP}")
        assert bench.check("light")["outcome"] == "pass"
        bench.do(f"drift light gain={1 / LAMP}")
        bench.advance(1)
    store = bench.store
    maker.close()
    record = load_trial(store, "counts")
    (first, *_) = evidence_of(record)
    films = stage_films(record, first, "applied")
    assert films is not None
    return Told(store, record, films)


def test_the_spectra_of_checks_and_runs_are_counts(told: Told) -> None:
    assert all(s.is_counts for s in told.record.spectra.values())
    assert len(told.record.beams) == 4
    for beam in told.record.beams.values():
        assert (len(beam.dark), len(beam.open)) == (3, 3)


def test_the_film_comes_out_of_the_counts(told: Told) -> None:
    (film,) = told.films.films
    for band in film.bands:
        if band.film.definition.name == "UVA 315-400 nm, plain mean":
            assert band.film.value == pytest.approx(FILM, abs=0.01)
            assert band.half_width is not None
            assert abs(band.film.value - FILM) < band.half_width


def test_the_page_says_by_which_checks_and_how_the_lamp_changed(told: Told, tmp_path: Path) -> None:
    assert len(told.films.made_by) == 2
    for line in told.films.made_by:
        assert "in a straight line from check" in line
        told_percent = float(line.partition("changed by ")[2].partition(" %")[0].replace("−", "-"))
        assert told_percent == pytest.approx(100 * (LAMP - 1), abs=0.02)
    page = write_report(told.store, "counts", tmp_path / "page.html").read_text("utf-8")
    assert "in counts: (counts" in page


def test_the_proof_of_a_reading_says_that_it_was_made_of_counts(told: Told) -> None:
    found = prove(told.store, next(iter(told.record.spectra)))
    assert found.holds
    assert any("1101 points in raw counts, by the dark and the open beam" in x for x in found.lines)


def test_another_copy_makes_the_same_page_of_a_package(told: Told, tmp_path: Path) -> None:
    write_package(told.store, "counts", tmp_path / "counts.zip")
    found = recompute(tmp_path / "counts.zip", tmp_path / "again.html")
    assert found.is_same
    assert "in counts: (counts" in (tmp_path / "again.html").read_text("utf-8")
