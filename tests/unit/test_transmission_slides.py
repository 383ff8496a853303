"""Coated slides against blanks: the spread of slides decides what is shown."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from uncertainties import ufloat

from acquire.analysis.transmission import meter
from acquire.analysis.transmission.definition import UVA, VISIBLE, Definition
from acquire.analysis.transmission.film import film_ratio
from acquire.analysis.transmission.slides import (
    FilmResult,
    Shown,
    difference_of_films,
    film_of_slides,
)
from acquire.analysis.transmission.slidespectra import difference_of_film_spectra, film_of_spectra
from acquire.analysis.transmission.spectrum import Spectrum, spectrum
from acquire.analysis.transmission.weights import am15, d65_v

BLANKS = [0.917, 0.915, 0.918, 0.916, 0.919]
NAME = "UVA 315-400 nm, plain mean"


def term(result: FilmResult, start: str) -> float:
    assert result.budget is not None
    return next(t.contribution for t in result.budget.terms if t.name.startswith(start))


def test_a_film_that_blocks_half_is_shown_with_its_interval_and_its_name() -> None:
    found = film_of_slides(NAME, [0.461, 0.458, 0.464], BLANKS)
    assert found.value == pytest.approx(0.461 / 0.917)
    assert found.blocking == pytest.approx(1 - 0.461 / 0.917)
    assert found.absorbance == pytest.approx(-math.log10(0.461 / 0.917))
    assert found.shown is Shown.LOWER
    assert found.sentence.startswith(f"{NAME}: film transmittance 0.50")
    assert "lower than the blank" in found.sentence
    assert "smallest change" in found.sentence


def test_a_change_inside_the_spread_of_the_slides_is_not_shown_and_no_small_gain() -> None:
    found = film_of_slides(NAME, [0.916, 0.914, 0.917], BLANKS)
    assert found.shown is Shown.NOT_SHOWN
    assert "A change is not shown" in found.sentence
    assert "gain" not in found.sentence


def test_the_smallest_change_is_one_that_is_shown_in_80_of_100_repeats_or_more() -> None:
    """Three slides a side of one scatter, drawn: as told from the true scatter, Welch's test."""
    draw = np.random.default_rng(80)
    n, u = 3, 0.002
    spread = [0.9 - u, 0.9, 0.9 + u]  # standard deviation u
    told = film_of_slides(NAME, spread, spread).sentence
    smallest = float(told.rpartition("could have shown is ")[2].rstrip("."))
    coated = 0.9 * (1 - smallest) + u * draw.standard_normal((3000, n))
    blanks = 0.9 + u * draw.standard_normal((3000, n))
    shown = np.mean(stats.ttest_ind(coated, blanks, axis=1, equal_var=False).pvalue < 0.05)
    assert 0.79 < shown < 0.93


def test_a_ratio_above_one_is_shown_and_not_clipped() -> None:
    found = film_of_slides(NAME, [0.929, 0.931, 0.930], BLANKS)
    assert found.value is not None
    assert found.value > 1.01
    assert found.blocking is not None
    assert found.blocking < 0
    assert found.absorbance is not None
    assert found.absorbance < 0
    assert found.shown is Shown.HIGHER
    assert "higher than the blank" in found.sentence


def test_the_doubt_is_that_of_a_ratio_of_two_means_by_the_library() -> None:
    coated = [0.461, 0.458, 0.464, 0.460]
    found = film_of_slides(NAME, coated, BLANKS)
    ratio = ufloat(np.mean(coated), np.std(coated, ddof=1) / 2) / ufloat(
        np.mean(BLANKS), np.std(BLANKS, ddof=1) / math.sqrt(5)
    )
    assert found.budget is not None
    assert found.value == pytest.approx(ratio.nominal_value)
    assert found.budget.combined == pytest.approx(ratio.std_dev)
    assert term(found, "scatter of the blanks") == pytest.approx(
        ratio.nominal_value * np.std(BLANKS, ddof=1) / math.sqrt(5) / np.mean(BLANKS)
    )


@given(st.integers(0, 10**6), st.integers(2, 8), st.integers(2, 8))
def test_near_one_the_decision_is_that_of_welchs_test(seed: int, n: int, m: int) -> None:
    rng = np.random.default_rng(seed)
    coated = 0.9 + rng.normal(0, 0.001, n) + rng.choice([0, 0.001, 0.003])
    blanks = 0.9 + rng.normal(0, 0.001, m)
    found = film_of_slides(NAME, list(coated), list(blanks))
    p = stats.ttest_ind(coated, blanks, equal_var=False).pvalue
    if not 0.045 < p < 0.055:  # the ratio is to first order in a thousandth
        assert (found.shown is not Shown.NOT_SHOWN) == (p < 0.05)


def test_one_coated_slide_takes_the_spread_of_the_blanks_for_its_own() -> None:
    found = film_of_slides(NAME, [0.461], BLANKS)
    relative = np.std(BLANKS, ddof=1) / np.mean(BLANKS)
    assert found.budget is not None
    assert found.value is not None
    assert found.budget.combined == pytest.approx(found.value * relative * math.sqrt(1 + 1 / 5))
    assert found.budget.nu == 4
    assert len(found.budget.terms) == 1


@pytest.mark.parametrize(("n", "m"), [(1, 3), (1, 5), (2, 3), (3, 5), (5, 5)])
@pytest.mark.parametrize("truth", [0.3, 1.0])
def test_drawn_slides_hold_the_truth_in_95_of_100_intervals(n: int, m: int, truth: float) -> None:
    rng = np.random.default_rng(1000 * n + m)
    held = 0
    for _ in range(1500):
        coated = truth * 0.917 * (1 + rng.normal(0, 0.003, n))
        blanks = 0.917 * (1 + rng.normal(0, 0.003, m))
        found = film_of_slides(NAME, list(coated), list(blanks))
        assert found.value is not None
        assert found.budget is not None
        held += abs(found.value - truth) <= found.budget.expanded
    # 1,500 draws know 95 % to 0.6 %; Welch and Satterthwaite are a little wide for two slides.
    assert 0.935 <= held / 1500 <= 0.99


def test_order_of_slides_and_percent_in_place_of_parts_change_no_ratio() -> None:
    coated = [0.461, 0.458, 0.464]
    a = film_of_slides(NAME, coated, BLANKS)
    b = film_of_slides(NAME, coated[::-1], BLANKS[::-1])
    c = film_of_slides(NAME, [100 * t for t in coated], [100 * t for t in BLANKS])
    for other in (b, c):
        assert other.value == pytest.approx(a.value)
        assert other.budget is not None
        assert a.budget is not None
        assert other.budget.expanded == pytest.approx(a.budget.expanded)


def test_one_blank_says_nothing_of_the_spread_and_is_refused_with_the_ratio_told() -> None:
    found = film_of_slides(NAME, [0.46, 0.47], [0.917])
    assert found.shown is Shown.REFUSED
    assert found.budget is None
    assert found.value == pytest.approx(0.465 / 0.917)
    assert "no decision. One blank" in found.sentence
    assert "Next:" in found.sentence


def test_slides_that_all_read_the_same_are_judged_by_the_display_or_not_at_all() -> None:
    without = film_of_slides(NAME, [0.9, 0.9, 0.9], [0.9, 0.9, 0.9])
    assert without.shown is Shown.REFUSED
    assert "display's resolution" in without.sentence
    with_step = film_of_slides(NAME, [0.9, 0.9, 0.9], [0.9, 0.9, 0.9], resolution=0.001)
    assert with_step.shown is Shown.NOT_SHOWN
    assert with_step.budget is not None
    # Half a step over root 3, of each of two means, over the blank.
    assert with_step.budget.combined == pytest.approx(
        0.0005 / math.sqrt(3) * math.sqrt(2) / 0.9, rel=1e-6
    )


def test_a_blank_that_is_dark_or_known_too_poorly_gives_no_decision() -> None:
    dark = film_of_slides(NAME, [0.01], [0.03, 0.04])
    assert dark.value is None
    assert dark.shown is Shown.REFUSED
    assert "nothing can be told of the film" in dark.sentence
    loose = film_of_slides(NAME, [0.3, 0.3], [0.3, 0.6])
    assert loose.shown is Shown.REFUSED
    assert "known to 33 % only" in loose.sentence


def test_a_film_that_lets_nothing_through_has_no_absorbance() -> None:
    found = film_of_slides(NAME, [0.0, 0.0, 0.0], BLANKS, resolution=0.001)
    assert found.value == 0
    assert found.absorbance is None
    assert found.shown is Shown.LOWER


def test_what_the_readings_shared_comes_into_the_budget_by_its_name() -> None:
    dark = meter.variable("dark", 0.0, 0.004)
    ratio = film_ratio(
        meter.variable("coated", 0.461, 0.0) - dark, meter.variable("blank", 0.917, 0.0) - dark
    )
    shared = meter.budget_of("film", "1", ratio).terms
    found = film_of_slides(NAME, [0.461, 0.458, 0.464], BLANKS, shared=shared)
    assert term(found, "dark") == pytest.approx(0.004 * (1 - 0.461 / 0.917) / 0.917)


def test_no_slide_and_figures_that_are_none_are_refused() -> None:
    with pytest.raises(ValueError, match="no coated slides"):
        film_of_slides(NAME, [], BLANKS)
    with pytest.raises(ValueError, match="no blanks"):
        film_of_slides(NAME, [0.5], [])
    with pytest.raises(ValueError, match="over-range"):
        film_of_slides(NAME, [math.nan], BLANKS)
    with pytest.raises(ValueError, match="display's step"):
        film_of_slides(NAME, [0.5], BLANKS, resolution=-1)


# Two films against the same blanks.


def test_blanks_that_two_films_share_nearly_cancel_in_their_difference() -> None:
    rough = [0.88, 0.92, 0.95, 0.90, 0.935]
    one, two = [0.461, 0.462, 0.460], [0.455, 0.456, 0.454]
    found = difference_of_films(NAME, one, two, rough)
    alone = film_of_slides(NAME, one, rough)
    assert found.value == pytest.approx(0.006 / 0.917)
    assert found.shown is Shown.HIGHER
    assert term(found, "scatter of the blanks") < 0.02 * term(alone, "scatter of the blanks")
    assert "higher than the other film" in found.sentence
    assert found.blocking is None
    assert found.absorbance is None


@pytest.mark.parametrize(("n", "m"), [(1, 4), (3, 4)])
def test_drawn_films_hold_the_true_difference(n: int, m: int) -> None:
    rng = np.random.default_rng(77 + n)
    held = 0
    for _ in range(1500):
        one, two = (film * 0.917 * (1 + rng.normal(0, 0.004, n)) for film in (0.6, 0.55))
        blanks = 0.917 * (1 + rng.normal(0, 0.004, m))
        found = difference_of_films(NAME, list(one), list(two), list(blanks))
        assert found.value is not None
        assert found.budget is not None
        held += abs(found.value - 0.05) <= found.budget.expanded
    assert 0.935 <= held / 1500 <= 0.99


def test_turning_two_films_round_turns_the_sign_alone() -> None:
    one, two = [0.461, 0.462, 0.460], [0.455, 0.457, 0.454]
    a = difference_of_films(NAME, one, two, BLANKS)
    b = difference_of_films(NAME, two, one, BLANKS)
    assert a.value == pytest.approx(-(b.value or 0))
    assert a.budget is not None
    assert b.budget is not None
    assert a.budget.expanded == pytest.approx(b.budget.expanded)


# Slides read as spectra.

X = np.arange(300.0, 801.0, 2.0)
CLEAR = 0.92 / (1 + np.exp(-(X - 312) / 3))
FILM = 0.05 + 0.95 / (1 + np.exp(-(X - 390) / 8))


def slides(seed: int, n: int, film: np.ndarray, spread: float = 0.003) -> list[Spectrum]:
    rng = np.random.default_rng(seed)
    return [
        spectrum(
            f"{seed} {k}", X, CLEAR * film * (1 + rng.normal(0, spread)), np.full(X.size, 1e-4)
        )
        for k in range(n)
    ]


def test_a_film_of_spectra_is_the_mean_of_the_ratio_and_says_point_by_point() -> None:
    definition = Definition(UVA, am15())
    exact = film_of_spectra(definition, slides(1, 1, FILM, 0.0), slides(2, 3, FILM / FILM, 1e-9))
    x, w = am15().wavelength_nm, am15().weight
    inside = (x >= 315) & (x <= 400)
    wanted = np.trapezoid((w * np.interp(x, X, FILM))[inside], x[inside]) / np.trapezoid(
        w[inside], x[inside]
    )
    assert exact.value == pytest.approx(wanted, abs=2e-4)
    assert exact.name == "UVA 315-400 nm, AM1.5 global (ASTM G173-03), film point by point"
    assert exact.shown is Shown.LOWER


def test_slides_that_differ_by_one_factor_have_the_doubt_of_a_band_meters_slides() -> None:
    definition = Definition(VISIBLE, d65_v())
    coated, blanks = slides(3, 4, np.full(X.size, 0.9)), slides(4, 5, np.ones(X.size))
    found = film_of_spectra(definition, coated, blanks)
    at = 200
    single = film_of_slides("", [s.values[at] for s in coated], [s.values[at] for s in blanks])
    assert found.value == pytest.approx(single.value, rel=1e-9)
    assert found.budget is not None
    assert single.budget is not None
    assert found.budget.combined == pytest.approx(single.budget.combined, rel=1e-9)
    assert found.budget.nu == pytest.approx(single.budget.nu, rel=1e-9)
    two = slides(5, 1, np.full(X.size, 0.8))
    less = difference_of_film_spectra(definition, coated, two, blanks)
    plain = difference_of_films(
        "", [s.values[at] for s in coated], [two[0].values[at]], [s.values[at] for s in blanks]
    )
    assert less.value == pytest.approx(plain.value, rel=1e-9)
    assert less.budget is not None
    assert plain.budget is not None
    assert less.budget.combined == pytest.approx(plain.budget.combined, rel=1e-9)


def test_a_dark_that_all_slides_share_is_a_line_of_its_own() -> None:
    def shared(one: Spectrum, size: float) -> Spectrum:
        doubts = {**one.doubts, "dark": np.full(X.size, size)}
        return Spectrum(one.wavelength_nm, one.values, one.is_there, doubts)

    definition = Definition(VISIBLE, d65_v())
    coated = [shared(s, 0.01) for s in slides(3, 3, FILM)]
    blanks = [shared(s, 0.01) for s in slides(4, 3, np.ones(X.size))]
    found = film_of_spectra(definition, coated, blanks)
    assert found.budget is not None
    names = [t.name for t in found.budget.terms]
    assert names == ["scatter of the coated slides", "scatter of the blanks", "dark"]


def test_a_blank_that_cuts_off_inside_the_band_is_told_with_what_would_help() -> None:
    blanks = [
        spectrum(f"b{k}", X, 0.92 / (1 + np.exp(-(X - 335) / 3)) * (1 + k / 1000)) for k in range(3)
    ]
    found = film_of_spectra(Definition(UVA), slides(1, 3, FILM), blanks)
    assert found.value is None
    assert found.shown is Shown.REFUSED
    assert "315 to" in found.sentence
    assert "fused silica" in found.sentence
