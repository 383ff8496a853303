"""From counts to film, for single readings and for spectra: formulas, doubt, and what is shared."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import ufloat, unumpy

from acquire.analysis.transmission import beam, film, meter, slab, stray
from acquire.analysis.transmission.bandvalue import band_value, covariance
from acquire.analysis.transmission.coverage import cover
from acquire.analysis.transmission.definition import (
    UV_300_400,
    UVA,
    VISIBLE,
    Band,
    Definition,
)
from acquire.analysis.transmission.spectrum import (
    Scan,
    corrected,
    film_spectrum,
    mean_spectrum,
    scan,
    spectrum,
    transmittance_spectrum,
)
from acquire.analysis.transmission.weights import am15

X = np.arange(300.0, 421.0, 1.0)
SMALL = Definition(Band(300, 420))


def counts(seed: int, level: float, u: float, name: str, at_s: float = 0.0) -> Scan:
    rng = np.random.default_rng(seed)
    return Scan(name, level * rng.uniform(0.9, 1.1, X.size), np.full(X.size, u), at_s)


DARK = counts(1, 100, 2.0, "dark")
BEFORE = counts(2, 30_000, 40.0, "open 1", 0.0)
AFTER = counts(3, 29_500, 40.0, "open 2", 100.0)
BLANK = counts(4, 27_000, 35.0, "blank", 30.0)
COATED = counts(5, 14_000, 25.0, "coated", 60.0)


def read(sample: Scan) -> object:
    return transmittance_spectrum(X, sample, DARK, BEFORE, AFTER)


def single(
    sample: float, dark: float, before: float, after: float, part: float = 0.5
) -> float | None:
    """The transmittance of counts that are alike at all points; None where there is none."""
    scans = [
        Scan(name, np.full_like(X, level), np.zeros_like(X), at_s)
        for name, level, at_s in (
            ("sample", sample, part), ("dark", dark, 0.0), ("before", before, 0.0),
            ("after", after, 1.0),
        )
    ]  # fmt: skip
    found = transmittance_spectrum(X, *scans)
    return float(found.values[7]) if found.is_there[7] else None


# Single readings.


@given(
    st.floats(10, 1000), st.floats(0, 9), st.floats(500, 1000), st.floats(500, 1000),
    st.floats(0, 1), st.floats(0.01, 100), st.floats(-100, 100),
)  # fmt: skip
def test_neither_gain_nor_zero_of_the_head_changes_a_transmittance(
    s: float, d: float, before: float, after: float, part: float, gain: float, zero: float
) -> None:
    plain = single(s, d, before, after, part)
    moved = [gain * f + zero for f in (s, d, before, after)]
    assert single(*moved, part) == pytest.approx(plain, rel=1e-6, abs=1e-9)


def test_the_open_beam_is_that_before_at_the_beginning_and_that_after_at_the_end() -> None:
    assert beam.position(0, 60, 0) == 0
    assert beam.position(0, 60, 60) == 1
    assert single(400.0, 0.0, 1000.0, 800.0, 0) == 0.4
    assert single(400.0, 0.0, 1000.0, 800.0, 1) == 0.5


def test_a_sample_outside_its_open_beams_is_not_extrapolated() -> None:
    for at_s in (-1, 61):
        with pytest.raises(ValueError, match="outside its open beams"):
            beam.position(0, 60, at_s)
    with pytest.raises(ValueError, match="later than the first"):
        beam.position(60, 60, 60)
    with pytest.raises(ValueError, match="finite"):
        beam.position(0, math.inf, 60)
    with pytest.raises(ValueError, match="outside its open beams"):
        single(1.0, 0.0, 2.0, 2.0, 1.5)


def test_without_light_there_is_no_ratio_and_over_range_is_no_reading() -> None:
    assert single(10.0, 20.0, 20.0, 20.0) is None
    for bad in (math.nan, math.inf):
        assert single(bad, 0.0, 1.0, 1.0) is None
        assert single(1.0, 0.0, bad, 1.0) is None


def test_absorbance_of_no_light_has_no_figure_and_of_more_than_the_blank_is_negative() -> None:
    assert film.absorbance(0.0) is None
    assert film.absorbance(-0.01) is None
    assert film.absorbance(1.0) == 0
    assert math.copysign(1, film.absorbance(1.0) or 0.0) == 1
    found = film.film(0.93, 0.92)
    assert found.transmittance > 1
    assert found.absorbance is not None
    assert found.absorbance < 0
    assert found.blocking < 0
    with pytest.raises(ValueError, match="finite"):
        film.absorbance(math.nan)


def test_a_blank_that_lets_too_little_through_gives_no_ratio() -> None:
    with pytest.raises(ValueError, match=r"only 5 % through.*fused silica"):
        film.film_ratio(0.01, 0.05)
    assert film.film_ratio(0.01, 0.05, least_blank=0.01) == pytest.approx(0.2)
    with pytest.raises(ValueError, match="through"):
        film.film_ratio(0.01, math.nan)


@given(st.floats(0.05, 1.1), st.floats(1e-6, 0.004))
def test_the_doubt_of_an_absorbance_is_that_of_the_library(t: float, u: float) -> None:
    other = ufloat(t, u)
    from uncertainties import umath

    assert film.absorbance_u(t, u) == pytest.approx((-umath.log10(other)).std_dev, abs=1e-12)


def test_the_doubt_of_an_absorbance_is_not_told_where_first_order_fails() -> None:
    assert film.absorbance_u(0.01, 0.005) is None
    assert film.absorbance_u(0.0, 0.0) is None
    assert film.absorbance_u(-0.1, 0.01) is None


@given(st.floats(0, 1.2), st.floats(0, 0.5))
def test_stray_light_taken_off_leaves_what_was_there(t: float, s: float) -> None:
    assert stray.without_stray(stray.with_stray(t, s), s) == pytest.approx(t, abs=1e-12)


def test_stray_light_is_found_from_a_blocked_beam() -> None:
    s = 0.002
    assert stray.stray_part(stray.with_stray(0.0, s)) == pytest.approx(s)
    assert stray.largest_absorbance(0.0) is None
    for bad in (-0.1, 0.5, math.nan):
        with pytest.raises(ValueError, match="blocked beam"):
            stray.stray_part(bad)
    for bad in (-0.1, 1.0, math.nan):
        with pytest.raises(ValueError, match="stray part"):
            stray.with_stray(0.5, bad)
        with pytest.raises(ValueError, match="stray part"):
            stray.without_stray(0.5, bad)


def test_a_sheet_loses_eight_percent_at_its_faces_and_a_film_of_its_index_none_more() -> None:
    # About 8 % for plain glass, any optics textbook.
    assert slab.slab(1.52).transmittance == pytest.approx(0.92, abs=0.005)
    assert slab.film_on_slide(1.52, 1.52) == pytest.approx(slab.slab(1.52).transmittance)
    assert slab.film_on_slide(1.0, 1.52) == pytest.approx(slab.slab(1.52).transmittance)


@given(st.floats(1, 2), st.floats(1, 2), st.floats(0, 1))
def test_the_sum_of_all_passes_is_what_a_light_traced_through_gives(
    n_film: float, n_slide: float, tau: float
) -> None:
    # The two streams at each of three faces, solved as linear equations.
    r = [((a - b) / (a + b)) ** 2 for a, b in ((1, n_film), (n_film, n_slide), (n_slide, 1))]
    # Unknown: down and up in the film (at its top), down and up in the slide.
    m = np.array(
        [
            [1, -r[0], 0, 0],
            [-(tau**2) * r[1], 1, 0, -tau * (1 - r[1])],
            [-tau * (1 - r[1]), 0, 1, -r[1]],
            [0, 0, -r[2], 1],
        ]
    )
    streams = np.linalg.solve(m, np.array([1 - r[0], 0, 0, 0]))
    assert slab.film_on_slide(n_film, n_slide, tau) == pytest.approx(
        streams[2] * (1 - r[2]), abs=1e-12
    )


def test_glass_that_cannot_be_is_refused() -> None:
    for call in (
        lambda: slab.slab(0.9),
        lambda: slab.slab(1.5, 1.1),
        lambda: slab.film_on_slide(1.5, 1.5, -0.1),
        lambda: slab.internal_transmittance(-1e-6, 400, 1),
        lambda: slab.internal_transmittance(0, 0, 1),
        lambda: film.thicker(1.1, 1, 1),
        lambda: film.thicker(0.5, 0, 1),
    ):
        with pytest.raises(ValueError, match="wanted"):
            call()


# What single readings share.


def test_the_dark_that_sample_and_blank_share_counts_once_and_the_open_beam_cancels() -> None:
    dark, before, after = (
        meter.variable("dark", 10, 0.5),
        meter.variable("open beam before", 1000, 5),
        meter.variable("open beam after", 990, 5),
    )
    sample, blank = meter.variable("sample", 460, 1), meter.variable("blank", 910, 1)
    ratio = film.film_ratio(
        *(beam.light_ratio(slide, dark, before * 0.5 + after * 0.5) for slide in (sample, blank))
    )
    budget = meter.budget_of("film", "1", ratio, {"sample": 4})
    by_name = {t.name: t for t in budget.terms}
    assert "open beam before" not in {n for n, t in by_name.items() if t.contribution > 1e-12}
    # (S - D)/(B - D): by hand.
    value = 450 / 900
    assert ratio.nominal_value == pytest.approx(value)
    assert by_name["dark"].contribution == pytest.approx(0.5 * (1 - value) / 900)
    assert by_name["sample"].nu == 4
    assert by_name["sample"].kind == "A"
    assert budget.combined == pytest.approx(
        math.hypot(1 / 900, value / 900, 0.5 * (1 - value) / 900), rel=1e-9
    )


def test_two_films_against_one_blank_are_correlated_and_their_difference_is_surer() -> None:
    blank = meter.variable("blank", 0.90, 0.02)
    one = film.film_ratio(meter.variable("one", 0.45, 0.001), blank)
    two = film.film_ratio(meter.variable("two", 0.46, 0.001), blank)
    apart = math.hypot(one.std_dev, two.std_dev)
    assert (two - one).std_dev < 0.2 * apart
    found = meter.correlations([one, two, meter.variable("exact", 1.0, 0.0)])
    assert found[0][1] == pytest.approx(1, abs=0.02)
    assert found[0][2] is None
    assert found[0][0] == pytest.approx(1)


def test_readings_without_name_value_or_doubt_are_refused() -> None:
    with pytest.raises(ValueError, match="wants a name"):
        meter.variable("", 1, 0.1)
    with pytest.raises(ValueError, match="finite"):
        meter.variable("a", math.nan, 0.1)
    with pytest.raises(ValueError, match="0 or more"):
        meter.variable("a", 1, -0.1)
    with pytest.raises(ValueError, match="two variables are named a"):
        meter.budget_of("m", "1", meter.variable("a", 1, 0.1) + meter.variable("a", 2, 0.1))


# Spectra.


def test_a_spectrum_is_the_single_reading_at_each_point() -> None:
    found = read(COATED)
    for k in (0, 7, 120):
        open_beam = 0.4 * BEFORE.values[k] + 0.6 * AFTER.values[k]
        one = beam.light_ratio(COATED.values[k], DARK.values[k], open_beam)
        assert found.values[k] == pytest.approx(one, rel=1e-12)


def test_doubt_of_spectra_and_bands_is_that_of_the_library_number_by_number() -> None:
    # The library uncertainties with a variable for each point of each scan: another road.
    def numbers(s: Scan) -> np.ndarray:
        return unumpy.uarray(s.values, s.u)

    d, b, a, s, c = map(numbers, (DARK, BEFORE, AFTER, BLANK, COATED))

    def t(sample: np.ndarray, part: float) -> np.ndarray:
        return (sample - d) / (b * (1 - part) + a * part - d)

    ratio = t(c, 0.6) / t(s, 0.3)
    ours = film_spectrum(read(COATED), read(BLANK))
    assert ours.values == pytest.approx(unumpy.nominal_values(ratio), rel=1e-12)
    assert ours.u() == pytest.approx(unumpy.std_devs(ratio), rel=1e-9)
    factors = cover(X, Definition(UVA, am15())).factors
    band = (factors * ratio).sum()
    found = band_value(ours, Definition(UVA, am15()))
    assert found.value == pytest.approx(band.nominal_value, rel=1e-12)
    assert found.u == pytest.approx(band.std_dev, rel=1e-9)
    # Stray light is one error for all points.
    stray_part = ufloat(0.002, 0.0005)
    true = t(c, 0.6) * (1 + stray_part) - stray_part
    clean = corrected(read(COATED), 0.002, 0.0005)
    assert clean.u() == pytest.approx(unumpy.std_devs(true), rel=1e-9)
    assert band_value(clean, Definition(UVA, am15())).u == pytest.approx(
        (factors * true).sum().std_dev, rel=1e-9
    )


def test_bands_that_overlap_and_slides_that_share_a_dark_are_correlated_as_the_library_says() -> (
    None
):
    from uncertainties import covariance_matrix

    d, b, a, s, c = (
        unumpy.uarray(one.values, one.u) for one in (DARK, BEFORE, AFTER, BLANK, COATED)
    )
    blank = (s - d) / (b * 0.7 + a * 0.3 - d)
    coated = (c - d) / (b * 0.4 + a * 0.6 - d)
    one, other = Definition(UVA), Definition(UV_300_400)
    f, g = cover(X, one).factors, cover(X, other).factors
    wanted = covariance_matrix([(f * blank).sum(), (g * coated).sum()])[0][1]
    assert covariance(read(BLANK), one, read(COATED), other) == pytest.approx(wanted, rel=1e-9)
    u = band_value(read(BLANK), one).u
    assert u is not None
    assert covariance(read(BLANK), one, read(BLANK), one) == pytest.approx(u**2, rel=1e-9)


def test_drawn_noise_scatters_a_band_as_much_as_is_told() -> None:
    rng = np.random.default_rng(11)
    ours = film_spectrum(read(COATED), read(BLANK))
    told = band_value(ours, SMALL).u
    drawn = []
    for _ in range(2000):
        d, b, a, s, c = (
            Scan(one.name, rng.normal(one.values, one.u), one.u, one.at_s)
            for one in (DARK, BEFORE, AFTER, BLANK, COATED)
        )
        ratio = film_spectrum(
            transmittance_spectrum(X, c, d, b, a), transmittance_spectrum(X, s, d, b, a)
        )
        drawn.append(band_value(ratio, SMALL).value)
    # 2,000 draws know a standard deviation to 1.6 %.
    assert np.std(drawn, ddof=1) == pytest.approx(told, rel=0.06)


def test_a_spectrum_over_itself_is_one_without_any_doubt() -> None:
    found = film_spectrum(read(BLANK), read(BLANK))
    assert found.values == pytest.approx(np.ones(X.size))
    assert found.u() == pytest.approx(np.zeros(X.size), abs=1e-15)


def test_the_mean_of_spectra_that_share_a_dark_keeps_the_doubt_of_the_dark() -> None:
    slides = [read(counts(20 + k, 14_000, 0.0, f"slide {k}", 50.0)) for k in range(8)]
    mean = mean_spectrum(slides)
    # Doubt that all share does not shrink with their number.
    assert mean.doubts["dark"] == pytest.approx(
        np.mean([s.doubts["dark"] for s in slides], axis=0), rel=1e-12
    )
    noisy = [read(counts(20 + k, 14_000, 25.0, f"slide {k}", 50.0)) for k in range(4)]
    alone = noisy[0].doubts["slide 0"]
    assert mean_spectrum(noisy).doubts["slide 0"] == pytest.approx(alone / 4, rel=1e-12)


def test_points_without_light_or_over_range_are_not_there_and_hold_no_figure() -> None:
    over = COATED.values.copy()
    over[3] = np.inf
    weak = BEFORE.values.copy()
    weak[5:8] = DARK.values[5:8] + 10.0
    after = AFTER.values.copy()
    after[5:8] = DARK.values[5:8] + 10.0
    found = transmittance_spectrum(
        X,
        Scan("coated", over, COATED.u, 60.0),
        DARK,
        Scan("open 1", weak, BEFORE.u, 0.0),
        Scan("open 2", after, AFTER.u, 100.0),
    )
    assert np.flatnonzero(~found.is_there).tolist() == [3, 5, 6, 7]
    assert found.values[[3, 5, 6, 7]].tolist() == [0, 0, 0, 0]
    assert np.isfinite(found.values).all()
    assert np.isfinite(found.u()).all()
    assert found.at(303.5) is None
    assert found.at(301.0) == pytest.approx(found.values[1])
    assert found.at(250.0) is None


def test_a_blank_below_its_cut_off_leaves_a_gap_in_the_film_and_the_band_says_so() -> None:
    clear = 0.92 / (1 + np.exp(-(X - 330) / 3))
    ratio = film_spectrum(spectrum("coated", X, 0.5 * clear), spectrum("blank", X, clear))
    found = band_value(ratio, Definition(UVA))
    assert found.value is None
    assert found.gaps[0].lower_nm == 315
    assert 320 < found.gaps[0].upper_nm < 330
    assert band_value(ratio, Definition(Band(340, 400))).value == pytest.approx(0.5)


def test_repeated_scans_give_mean_and_standard_error_and_one_scan_alone_is_refused() -> None:
    rows = np.random.default_rng(3).normal(1000, 20, (6, X.size))
    found = scan("open", rows, 5.0)
    assert found.values == pytest.approx(rows.mean(axis=0))
    assert found.u == pytest.approx(rows.std(axis=0, ddof=1) / math.sqrt(6))
    rows[2, 4] = np.nan
    assert not np.isfinite(scan("open", rows).values[4])
    with pytest.raises(ValueError, match="at least two arrays"):
        scan("open", rows[:1])


def test_scans_that_cannot_be_told_apart_or_do_not_fit_are_refused() -> None:
    with pytest.raises(ValueError, match="a name of its own"):
        transmittance_spectrum(X, COATED, DARK, BEFORE, Scan("dark", AFTER.values, AFTER.u, 100.0))
    with pytest.raises(ValueError, match="121 figures are wanted"):
        transmittance_spectrum(X[:], Scan("s", np.ones(5), np.ones(5), 5.0), DARK, BEFORE, AFTER)
    with pytest.raises(ValueError, match="outside its open beams"):
        read(Scan("late", COATED.values, COATED.u, 101.0))
    with pytest.raises(ValueError, match="not negative"):
        read(Scan("s", COATED.values, -COATED.u, 60.0))
    with pytest.raises(ValueError, match="different wavelengths"):
        film_spectrum(spectrum("a", X, X), spectrum("b", X + 0.5, X))
    with pytest.raises(ValueError, match="no spectrum"):
        mean_spectrum([])
    with pytest.raises(ValueError, match="has no value"):
        covariance(spectrum("a", X, X), Definition(VISIBLE), spectrum("b", X, X), Definition(UVA))
    with pytest.raises(ValueError, match="0 or more"):
        corrected(spectrum("a", X, X / X), 0.001, -1)
