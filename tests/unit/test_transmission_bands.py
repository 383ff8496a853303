"""Bands and their weights: tables, interpolation, gaps, and many spectra at once."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from acquire.analysis.transmission.bandvalue import band_value
from acquire.analysis.transmission.coverage import Stretch, cover, rising
from acquire.analysis.transmission.definition import (
    NEAR_INFRARED_2500,
    UV_300_380,
    UVA,
    UVB,
    VISIBLE,
    Band,
    Definition,
    Rule,
    Weights,
)
from acquire.analysis.transmission.lamp import bell_lamp, lamp
from acquire.analysis.transmission.reduce import reduce_spectra
from acquire.analysis.transmission.spectrum import spectrum
from acquire.analysis.transmission.weights import (
    am15,
    columns,
    d65_v,
    even,
    every,
    standard_definitions,
    table,
)

ALL = standard_definitions()
HEAD_NM = np.linspace(270.0, 2510.0, 2048)


def grid(low: float, high: float, step: float) -> np.ndarray:
    return np.arange(low, high + step / 2, step)


def value_of(x: np.ndarray, t: np.ndarray, definition: Definition) -> float | None:
    return band_value(spectrum("t", x, t), definition).value


# The tables, each against another library that carries it.


def test_sunlight_is_that_of_another_library() -> None:
    # pvlib carries ASTM G173-03.
    import pvlib

    other = pvlib.spectrum.get_reference_spectra()["global"].loc[280:2500]
    assert np.array_equal(am15().wavelength_nm, other.index.to_numpy())
    assert am15().weight == pytest.approx(other.to_numpy(), rel=1e-12)


@pytest.mark.parametrize(
    ("low", "high", "watts"),
    # ASTM G173-03, global, W/m2 by the trapezoid.
    [(280, 315, 0.6823), (300, 380, 32.2571), (380, 780, 534.4439), (780, 2500, 425.8765)],
)
def test_sunlight_in_a_band_has_the_published_power(low: float, high: float, watts: float) -> None:
    x, w = am15().wavelength_nm, am15().weight
    inside = (x >= low) & (x <= high)
    assert np.trapezoid(w[inside], x[inside]) == pytest.approx(watts, abs=0.002)


def test_daylight_and_the_eye_are_those_of_another_library() -> None:
    import colour

    shape = colour.SpectralShape(380, 780, 1)
    _, (wavelength_nm, d65, v) = columns("d65_v_lambda.csv")
    eye = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape).values[:, 1]
    # The 1 nm values lie on straight lines between those that CIE prints every 5 nm.
    coarse = colour.SDS_ILLUMINANTS["D65"]
    line = np.interp(wavelength_nm, coarse.wavelengths, coarse.values)
    # Carried to nine decimals.
    assert v == pytest.approx(eye, abs=5.1e-10)
    assert d65 == pytest.approx(line, rel=2e-6)


@given(st.integers(400, 700), st.floats(3, 80))
def test_light_transmittance_is_the_luminance_that_another_library_computes(
    edge_nm: int, width_nm: float
) -> None:
    import colour

    x = grid(380, 780, 1)
    t = 0.9 / (1 + np.exp(-(x - edge_nm) / width_nm))
    shape = colour.SpectralShape(380, 780, 1)
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(shape)
    _, (_, d65, _) = columns("d65_v_lambda.csv")
    xyz = colour.sd_to_XYZ(
        colour.SpectralDistribution(t, x),
        cmfs,
        colour.SpectralDistribution(d65, x),
        method="Integration",
    )
    assert value_of(x, t, Definition(VISIBLE, d65_v())) == pytest.approx(xyz[1] / 100, abs=1e-6)


@pytest.mark.parametrize(
    ("name", "total"),
    # ISO 9050:1990 tables 1 and 4 and ISO 9050:2003 (rebuilt, from memory): the printed weights
    # add up to 100 % and 1 but for their last digit.
    [
        ("iso9050_1990_table1.csv", 99.9999),
        ("iso9050_1990_table4.csv", 1.0),
        ("iso9050_2003_uv.csv", 1.0),
    ],
)
def test_a_table_of_a_standard_adds_up_to_what_it_prints(name: str, total: float) -> None:
    assert float(table(name).weight.sum()) == pytest.approx(total, abs=2e-6)
    assert table(name).rule is Rule.ORDINATES


def test_the_printed_light_weights_are_the_products_within_their_rounding() -> None:
    # ISO 9050:1990, table 1, differs from D65 V(lambda) by up to 0.4 % where it matters.
    printed, product = table("iso9050_1990_table1.csv"), every(d65_v(), 10)
    ratio = (printed.weight / printed.weight.sum()) / (product.weight / product.weight.sum())
    main = printed.weight > 1
    assert abs(ratio[main] - 1).max() < 0.005


def test_every_table_names_its_source_and_edition_and_a_remembered_one_says_so() -> None:
    for definition in ALL:
        if definition.weights is not None:
            assert definition.weights.source
    assert "from memory" in table("iso9050_2003_uv.csv").source
    assert "G173-03" in am15().source


def test_a_table_cannot_be_changed() -> None:
    with pytest.raises(ValueError, match="read-only"):
        am15().weight[0] = 1.0


# Names.


def test_every_result_carries_band_and_weights_in_its_name_and_no_two_are_alike() -> None:
    names = [d.name for d in ALL]
    assert len(set(names)) == len(names)
    assert "UVA 315-400 nm, plain mean" in names
    assert "UVA 315-400 nm, AM1.5 global (ASTM G173-03)" in names
    assert "visible 380-780 nm, D65 and V(λ) at 1 nm (CIE)" in names
    assert "near infrared 780-2500 nm, AM1.5 global (ASTM G173-03)" in names
    columns_found = reduce_spectra(HEAD_NM, np.full((1, 2048), 0.5), ALL)
    assert [c.name for c in columns_found] == names


# The mean.


@given(st.floats(-0.1, 1.2))
def test_a_neutral_spectrum_is_the_same_in_every_band_and_weighting(level: float) -> None:
    # Above 1 and below 0 stay: nothing is clipped.
    for column in reduce_spectra(HEAD_NM, np.full((1, 2048), level), ALL):
        assert column.has_value[0]
        assert column.values[0] == pytest.approx(level, abs=1e-12)


@given(st.integers(0, 10**6), st.sampled_from([0.7, 2.0, 5.0]), st.floats(0, 1))
def test_the_plain_mean_is_the_exact_integral_of_the_straight_lines(
    seed: int, step: float, shift: float
) -> None:
    x = grid(300 + shift, 420, step)
    t = np.random.default_rng(seed).random(x.size)
    corners = [315.0, *x[(x > 315) & (x < 400)], 400.0]
    whole = sum(
        quad(lambda w: float(np.interp(w, x, t)), a, b)[0] for a, b in itertools.pairwise(corners)
    )
    assert value_of(x, t, Definition(UVA)) == pytest.approx(whole / 85, abs=1e-9)


@given(st.integers(0, 10**6))
def test_a_weighted_mean_is_near_the_integral_on_a_grid_a_hundred_times_as_fine(seed: int) -> None:
    rng = np.random.default_rng(seed)
    x = np.unique(rng.uniform(295, 410, 400))
    x = np.concatenate([[290.0], x, [415.0]])
    centre, width = rng.uniform(320, 390), rng.uniform(5, 30)
    t = 1 / (1 + np.exp(-(x - centre) / width))
    fine = grid(315, 400, 0.005)
    w = np.interp(fine, am15().wavelength_nm, am15().weight)
    dense = np.trapezoid(w * np.interp(fine, x, t), fine) / np.trapezoid(w, fine)
    # The trapezoid between the corners of both against the product of both straight lines.
    assert value_of(x, t, Definition(UVA, am15())) == pytest.approx(dense, abs=5e-5)


@given(st.integers(0, 10**6), st.floats(0.1, 3), st.floats(-0.5, 0.5))
def test_a_mean_follows_scale_and_shift_of_the_spectrum(
    seed: int, scale: float, shift: float
) -> None:
    t = np.random.default_rng(seed).random((1, 2048))
    before = reduce_spectra(HEAD_NM, t, ALL)
    after = reduce_spectra(HEAD_NM, scale * t + shift, ALL)
    for a, b in zip(before, after, strict=True):
        assert b.values[0] == pytest.approx(scale * a.values[0] + shift, abs=1e-12)


def test_the_mean_of_transmittance_is_not_that_of_absorbance() -> None:
    # Band averages are taken of T: 0.9, 0.92 and 0.88 give 0.9, and by absorbance 0.8998518.
    definition = Definition(Band(500, 520), even(500, 520, 10))
    found = value_of(np.array([500.0, 510, 520]), np.array([0.9, 0.92, 0.88]), definition)
    assert found == pytest.approx(0.9, abs=1e-12)


def test_points_in_between_on_the_same_straight_lines_change_no_plain_mean() -> None:
    x = grid(310, 410, 5)
    t = np.random.default_rng(5).random(x.size)
    finer = grid(310, 410, 1)
    for definition in (Definition(UVA), Definition(UVA, even(315, 400, 5))):
        a = value_of(x, t, definition)
        assert value_of(finer, np.interp(finer, x, t), definition) == pytest.approx(a, abs=1e-12)


def test_two_bands_side_by_side_make_the_one_of_both() -> None:
    x = grid(280, 400, 0.5)
    t = np.random.default_rng(6).random(x.size)
    b, a = value_of(x, t, Definition(UVB)), value_of(x, t, Definition(UVA))
    both = value_of(x, t, Definition(Band(280, 400)))
    assert a is not None
    assert b is not None
    assert both == pytest.approx((35 * b + 85 * a) / 120, abs=1e-12)


# What is not covered.


def test_a_spectrum_that_ends_in_the_band_gives_no_value_but_the_stretch_that_is_missing() -> None:
    x = grid(350, 700, 1)
    found = band_value(spectrum("t", x, np.full(x.size, 0.9)), Definition(UVA))
    assert found.value is None
    assert found.u is None
    assert found.gaps == (Stretch(315, 350),)
    assert found.covered == pytest.approx(50 / 85)
    assert "has no value: 315 to 350 nm was not measured" in found.note
    assert "Next:" in found.note


def test_a_wide_step_inside_the_band_is_a_gap_and_no_straight_line_crosses_it() -> None:
    x = np.concatenate([grid(310, 340, 1), grid(360, 410, 1)])
    found = band_value(spectrum("t", x, np.full(x.size, 0.9)), Definition(UVA))
    assert found.value is None
    assert found.gaps == (Stretch(340, 360),)
    bridged = band_value(spectrum("t", x, np.full(x.size, 0.9)), Definition(UVA, widest_step_nm=20))
    assert bridged.value == pytest.approx(0.9)
    assert bridged.note == ""


@pytest.mark.parametrize(
    ("step", "band", "is_fine"),
    [(5.0, UVA, True), (6.0, UVA, False), (10.0, VISIBLE, False), (50.0, NEAR_INFRARED_2500, True),
     (60.0, NEAR_INFRARED_2500, False)],
)  # fmt: skip
def test_how_coarse_a_grid_may_be_depends_on_the_wavelength(
    step: float, band: Band, is_fine: bool
) -> None:
    x = grid(band.lower_nm, band.upper_nm + step, step)
    found = value_of(x, np.full(x.size, 0.4), Definition(band))
    assert (found is not None) == is_fine


def test_a_coarse_visible_grid_is_enough_from_400_nm_on() -> None:
    x = np.concatenate([grid(380, 400, 5), grid(410, 780, 10)])
    assert value_of(x, np.full(x.size, 0.4), Definition(VISIBLE, d65_v())) == pytest.approx(0.4)


def test_a_small_shortfall_has_a_value_and_says_what_it_may_have_changed() -> None:
    # Sunlight has next to nothing below 295 nm.
    x = grid(295, 400, 0.5)
    found = band_value(spectrum("t", x, np.full(x.size, 0.3)), Definition(UVB, am15()))
    assert found.value == pytest.approx(0.3)
    assert 0.9999 < found.covered < 1
    assert found.gaps == (Stretch(280, 295),)
    assert "280 to 295 nm was not measured" in found.note
    assert "can change it by" in found.note
    strict = band_value(
        spectrum("t", x, np.full(x.size, 0.3)), Definition(UVB, am15()), least_covered=1.0
    )
    assert strict.value is None


@given(st.integers(0, 10**6))
def test_what_is_missing_changes_a_value_by_no_more_than_is_said(seed: int) -> None:
    rng = np.random.default_rng(seed)
    x = grid(280, 400, 0.5)
    t = rng.random(x.size)
    kept = x >= rng.uniform(280, 340)
    definition = Definition(Band(280, 400), am15())
    whole = value_of(x, t, definition)
    part = band_value(spectrum("t", x[kept], t[kept]), definition, least_covered=1e-6)
    assert whole is not None
    assert part.value is not None
    assert abs(part.value - whole) <= 1 - part.covered + 1e-9


def test_an_ordinate_before_the_first_point_is_not_measured_even_at_the_limit_of_the_band() -> None:
    x = grid(316, 400, 1)
    found = band_value(
        spectrum("t", x, np.ones(x.size)), Definition(UVA, even(315, 400, 5)), least_covered=0.9
    )
    assert found.covered == pytest.approx(17 / 18)
    assert found.gaps == (Stretch(315, 316),)


def test_ordinates_without_weight_need_no_measurement() -> None:
    # ISO 9050:2003 gives 300 nm no weight.
    x = grid(302, 380, 0.5)
    assert value_of(
        x, np.full(x.size, 0.2), Definition(UV_300_380, table("iso9050_2003_uv.csv"))
    ) == (pytest.approx(0.2))


def test_missing_points_are_bridged_where_their_neighbours_are_near_and_else_are_gaps() -> None:
    x = grid(310, 410, 1)
    t = 0.1 + 0.005 * (x - 310)
    one = t.copy()
    one[20] = np.inf
    many = t.copy()
    many[20:30] = np.nan
    a, b, c = reduce_spectra(x, np.array([t, one, many]), [Definition(UVA)])[0].values
    assert b == pytest.approx(a, abs=1e-12)
    assert c == 0.0
    column = reduce_spectra(x, np.array([t, one, many]), [Definition(UVA)])[0]
    assert column.has_value.tolist() == [True, True, False]
    assert column.covered[2] == pytest.approx(1 - 11 / 85)


@given(st.integers(0, 10**6), st.floats(0, 0.3))
def test_many_spectra_at_once_are_each_alone(seed: int, lost: float) -> None:
    rng = np.random.default_rng(seed)
    x = np.sort(rng.uniform(270, 2550, 700))
    t = rng.random((4, x.size))
    t[rng.random(t.shape) < lost] = np.nan
    t[:, 100:110] = np.nan
    for column in reduce_spectra(x, t, ALL, least_covered=0.5):
        for row in range(4):
            alone = band_value(spectrum("t", x, t[row]), column.definition, least_covered=0.5)
            assert column.has_value[row] == (alone.value is not None)
            assert column.covered[row] == pytest.approx(alone.covered, abs=1e-12)
            if alone.value is not None:
                assert column.values[row] == pytest.approx(alone.value, abs=1e-12)


def test_spectra_without_any_figure_have_no_value_and_nothing_is_not_a_number() -> None:
    t = np.full((3, 2048), np.nan)
    t[1, 5] = 0.5
    for column in reduce_spectra(HEAD_NM, t, ALL):
        assert not column.has_value.any()
        assert (column.values == 0).all()
        assert (column.covered == 0).all()
    found = band_value(spectrum("t", HEAD_NM, t[0]), Definition(UVA))
    assert found.value is None
    assert found.gaps == (Stretch(315, 400),)


def test_the_factors_add_up_to_one_and_lie_in_the_band_and_beside_it() -> None:
    x = rising(HEAD_NM)
    for definition in ALL:
        found = cover(x, definition)
        assert float(found.factors.sum()) == pytest.approx(1)
        used = x[found.factors != 0]
        assert used[0] >= definition.band.lower_nm - 1.2
        assert used[-1] <= definition.band.upper_nm + 1.2


# Lamps.


def test_a_lamp_of_no_width_to_speak_of_sees_its_centre() -> None:
    x = grid(300, 420, 0.5)
    t = 0.46 * (1 + np.tanh((x - 380) / 8))
    read = spectrum("t", x, t)
    assert band_value(read, bell_lamp(365, 0.5)).value == pytest.approx(read.at(365), abs=1e-4)


def test_a_lamp_by_its_own_spectrum_is_the_bell_where_it_is_bell_shaped() -> None:
    x = grid(320, 410, 0.5)
    t = 0.46 * (1 + np.tanh((x - 380) / 8))
    bell = np.exp(-4 * np.log(2) * ((x - 365) / 10) ** 2)
    own = lamp("lamp A, measured", x, bell, "own measurement")
    assert "lamp A, measured" in own.name
    assert value_of(x, t, own) == pytest.approx(value_of(x, t, bell_lamp(365, 10)), abs=1e-6)


def test_a_lamp_that_reaches_beyond_the_spectrum_has_no_value() -> None:
    x = grid(360, 420, 0.5)
    assert value_of(x, np.ones(x.size), bell_lamp(365, 10)) is None


# Refusals.


@pytest.mark.parametrize(
    ("x", "said"),
    [
        ([400.0], "at least two"),
        ([400.0, 390.0], "rise from point to point, got 400 and then 390"),
        ([400.0, 400.0], "rise"),
        ([400.0, np.nan], "finite"),
        ([0.0, 400.0], "above zero"),
    ],
)
def test_a_grid_that_is_none_is_refused_with_the_place(x: list[float], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        reduce_spectra(np.array(x), np.zeros((1, len(x))), ALL)


def test_spectra_of_another_length_are_refused() -> None:
    with pytest.raises(ValueError, match="2048 points"):
        reduce_spectra(HEAD_NM, np.zeros((2, 100)), ALL)


@pytest.mark.parametrize("least", [0.0, 1.1, -1.0])
def test_a_covered_part_outside_its_range_is_refused(least: float) -> None:
    with pytest.raises(ValueError, match="covered part"):
        reduce_spectra(HEAD_NM, np.zeros((1, 2048)), ALL, least_covered=least)


def test_bands_tables_and_lamps_that_make_no_sense_are_refused() -> None:
    with pytest.raises(ValueError, match="lower to a higher"):
        Band(400, 315)
    with pytest.raises(ValueError, match="short of the band"):
        Definition(UVA, d65_v())
    with pytest.raises(ValueError, match="belongs to its own band"):
        Definition(VISIBLE, table("iso9050_2003_uv.csv"))
    with pytest.raises(ValueError, match="above 0 nm"):
        Definition(UVA, widest_step_nm=-1)
    with pytest.raises(ValueError, match="rising"):
        Weights("w", Rule.DENSITY, np.array([2.0, 1.0]), np.ones(2), "s")
    with pytest.raises(ValueError, match="some above 0"):
        Weights("w", Rule.DENSITY, np.array([1.0, 2.0]), np.zeros(2), "s")
    with pytest.raises(ValueError, match="does not divide"):
        even(315, 400, 6)
    with pytest.raises(ValueError, match="no point at every"):
        every(d65_v(), 0.7)
    with pytest.raises(ValueError, match="width above zero"):
        bell_lamp(365, 0)
