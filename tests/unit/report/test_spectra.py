"""Stored spectra in the report: what their readings are means of, and the table of all bands."""

from __future__ import annotations

import math
from array import array
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest

from acquire.analysis.comparisons.comparison import Comparison
from acquire.model import EvenGrid, Quantity, Reading, Spectrum, SpectrumType
from acquire.model.plan import BandLamp
from acquire.report import write_report
from acquire.report.evidence.evidence import evidence_of
from acquire.report.evidence.filmspectra import stage_films
from acquire.report.record.loading import load_trial
from acquire.report.record.spectra import SpectrumRecord, names_of, points_of
from acquire.report.rows.resultrows import result_records
from acquire.report.sections.bands import film_bands
from acquire.report.terminal.resultlines import check_budgets, told
from acquire.settings import parse_plan
from tests.unit.report.test_quantities import THREE, ThreeMeters

START_NM, STEP_NM, POINTS = 300.0, 2.0, 101
X = START_NM + STEP_NM * np.arange(POINTS)
GLASS = 90 / (1 + np.exp(-(X - 315) / 5))
FILMS = {"A1": 1.0, "A2": 0.62, "A3": 0.9}
NAME = "UVA 315-400 nm, arithmetic mean at 2 nm"


class SpectralHead(ThreeMeters):
    """A yard whose head sends spectra, as `drivers.usbtmc` does: a reading of each band behind."""

    def spectra(self, stage: str, *, films: bool) -> None:
        plan = parse_plan(THREE, "trial.toml")
        self.act(lambda at: self.acts.runs.begin(plan, "light", stage, "head", at))
        rng = np.random.default_rng(len(stage))
        inside = (X >= 315) & (X <= 400)
        for film in FILMS.values():
            for _ in range(3):
                self.clock.advance(2)
                level = GLASS * (film if films else 1.0) * (1 + rng.normal(0, 0.002))
                values = level + rng.normal(0, 0.02, POINTS)
                mean = repr(float(values[inside].mean()))
                raw = b"9" * 40
                start = self._offsets.get("head", 0)
                end = start + len(raw)
                now = self.clock.now()
                self.take_in(
                    "head",
                    Spectrum(
                        Quantity.TRANSMITTANCE, "percent", array("d", values).tobytes(),
                        SpectrumType.BINARY64, EvenGrid(START_NM, STEP_NM), now, raw, start, end,
                    ),
                    Reading(
                        Quantity.TRANSMITTANCE, "315-400", Decimal(mean), "percent", mean, now, raw,
                        start, end,
                    ),
                )  # fmt: skip
        self.act(lambda at: self.acts.runs.finish("", at))


@pytest.fixture(scope="module")
def read(tmp_path_factory: pytest.TempPathFactory) -> Path:
    yard = SpectralHead(tmp_path_factory.mktemp("spectra"))
    yard.plug("head")
    yard.spectra("bare", films=False)
    yard.spectra("cured", films=True)
    store = yard.bench.store
    yard.close()
    return store


def test_each_reading_has_the_spectrum_that_it_was_made_of(read: Path) -> None:
    record = load_trial(read, "three")
    assert len(record.spectra) == 18
    for r in record.readings:
        one = record.spectra[r.id]
        inside = (one.wavelength_nm >= 315) & (one.wavelength_nm <= 400)
        assert r.value is not None
        assert 100 * one.values[inside].mean() == pytest.approx(float(r.value), rel=1e-12)


def test_the_band_is_named_by_the_weights_that_the_spectra_show(read: Path) -> None:
    (light,) = [e for e in evidence_of(load_trial(read, "three")) if e.measure.id == "light"]
    assert light.what == f"Transmittance, {NAME}"
    assert all(f"In {NAME}, the film lets" in c.sentence for c in light.decided)


def test_a_reading_that_is_no_mean_of_its_points_keeps_the_meters_own_weights(read: Path) -> None:
    record = load_trial(read, "three")
    values = [(r.id, r.channel, float(r.value or 0)) for r in record.readings]
    assert names_of(["315-400"], values, record.spectra) == {"315-400": NAME}
    off = [(i, c, v + 0.01) for i, c, v in values]
    own = {"315-400": "UVA 315-400 nm, as the meter weights it"}
    assert names_of(["315-400"], off, record.spectra) == own
    assert names_of(["315-400"], values, {}) == own


def test_the_first_row_of_the_table_is_what_the_decision_says(read: Path) -> None:
    """Same limits, same weights: slide over blank is the ratio that readings are judged by."""
    record = load_trial(read, "three")
    (light,) = [e for e in evidence_of(record) if e.measure.id == "light"]
    films = stage_films(record, light, "cured")
    assert films is not None
    assert {f.treatment for f in films.films} == {"wax", "oil"}
    for found in films.films:
        c = light.result.comparison(found.treatment, "cured")
        assert isinstance(c, Comparison)
        assert c.film is not None
        first = found.bands[0].film
        assert first.definition.name == NAME
        assert first.as_meter == pytest.approx(c.film.transmittance, rel=1e-12)


def test_a_lamp_of_the_plan_is_told_as_its_band_meter_would_read_the_films(read: Path) -> None:
    """The films of 62 and 90 % are flat, so a lamp of any width in the grid reads just these."""
    record = load_trial(read, "three")
    (light,) = [e for e in evidence_of(record) if e.measure.id == "light"]
    lamps = (BandLamp(Decimal(365), Decimal(12)), BandLamp(Decimal(940), Decimal(50)))
    (table,) = film_bands(
        record, replace(light, measure=replace(light.measure, lamps=lamps))
    ).tables
    (row,) = [row for row in table.rows if "lamp 365 nm, Gaussian, 12 nm wide" in row.name]
    for text, film in zip(row.films, (0.9, 0.62), strict=True):
        value, half = (float(part) for part in text.split(" ± "))
        assert abs(value - 100 * film) <= half
    assert any("lamp 940 nm" in line for line in table.gaps)


def test_all_bands_of_the_grid_have_a_value_and_the_others_say_why(read: Path) -> None:
    record = load_trial(read, "three")
    (light,) = [e for e in evidence_of(record) if e.measure.id == "light"]
    (table,) = film_bands(record, light).tables
    assert table.names == ("Jetty oil", "Slipway wax")
    names = [row.name for row in table.rows]
    assert {NAME, "UVA 315-400 nm, plain mean"} <= set(names)
    for row in table.rows:
        for text, film in zip(row.films, (0.9, 0.62), strict=True):
            value, half = (float(part) for part in text.split(" ± "))
            assert abs(value - 100 * film) <= half
    assert any(line.startswith("visible 380-780 nm") for line in table.gaps)
    assert any("The blanks let less than 10 % through" in line for line in table.gaps)


def test_the_page_has_the_table_the_curves_and_nothing_beyond_the_grid(
    read: Path, tmp_path: Path
) -> None:
    text = write_report(read, "three", tmp_path / "page.html").read_text(encoding="utf-8")
    assert "All bands of the spectra" in text
    assert "Films over wavelength" in text
    assert 'aria-label="Slipway wax over wavelength' in text
    assert "300 to 500 nm" in text


def test_a_void_takes_its_spectrum_out_of_the_table(read: Path) -> None:
    record = load_trial(read, "three")
    (light,) = [e for e in evidence_of(record) if e.measure.id == "light"]
    gone = next(r for r in light.readings if (r.zone, r.stage) == ("A2", "cured"))
    fewer = replace(record, spectra={i: s for i, s in record.spectra.items() if i != gone.id})
    for one, number in ((record, 3), (fewer, 2)):
        films = stage_films(one, light, "cured")
        assert films is not None
        (wax,) = [f for f in films.films if f.treatment == "wax"]
        assert len(wax.sides.treated[0].after) == number


def test_a_lamp_of_one_wavelength_or_a_band_without_points_is_no_mean_of_points() -> None:
    one = SpectrumRecord(1, 0, "percent", "binary64", 300.0, 5.0, None, np.full(9, 50.0).tobytes())
    assert points_of("940", one) is None
    assert points_of("700-800", one) is None
    uneven = replace(one, start_nm=None, step_nm=None, grid_nm=(X[:9] + 20).tobytes())
    found = points_of("321-335", uneven)
    assert found is not None
    assert found.name == "321-335 nm, arithmetic mean of 7 points"


def test_rows_for_a_program_have_the_ratio_with_its_band(read: Path) -> None:
    """Of every row of the measure, decisions and pairs: ratio is exp of the difference."""
    record = load_trial(read, "three")
    rows = [r for r in result_records(record) if r["measure"] == "light"]
    assert {r["band"] for r in rows} == {NAME}
    assert {r["unit"] for r in rows} == {"one"}
    judged = [r for r in rows if r["result"] in ("control", "pair")]
    assert len(judged) == 3
    for r in judged:
        for name, of in (("ratio", "difference"), ("ratio_low", "low"), ("ratio_high", "high")):
            assert float(str(r[name])) == pytest.approx(math.exp(float(str(r[of]))), rel=1e-9)
    (wax,) = [r for r in rows if (r["result"], r["treatment"]) == ("control", "wax")]
    assert float(str(wax["blocking"])) == pytest.approx(1 - float(str(wax["ratio"])))
    assert float(str(wax["ratio"])) == pytest.approx(0.62, abs=0.01)
    others = [r for r in result_records(record) if r["measure"] != "light"]
    assert all(r["ratio"] is None and r["band"] is None for r in others)


def test_the_tables_of_the_terminal_say_film_over_blank(read: Path) -> None:
    tables = {t.title: t.rows for t in told(read, "three").tables}
    against = tables[f"Transmittance, {NAME} at cured: against the control, %"]
    assert against[0][2] == "FILM / BLANK"
    assert {row[0] for row in against[1:]} == {"Jetty oil", "Slipway wax"}
    assert 61 < float(next(r[2] for r in against if r[0] == "Slipway wax")) < 63


def test_the_budgets_of_films_hold_by_other_roads(read: Path) -> None:
    assert check_budgets(read, "three").holds
