"""Films from slides read bare and coated as spectra: every band, by plain sums and by drawing."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from acquire.analysis.budget.reach import reach_of
from acquire.analysis.transmission.definition import UVA, UVB, Band, Definition
from acquire.analysis.transmission.pairs import Slide, bend_pull, film_in, sides_of
from acquire.analysis.transmission.slidespectra import film_of_spectra
from acquire.analysis.transmission.spectrum import Spectrum, mean_spectrum, spectrum
from acquire.analysis.transmission.weights import am15

X = np.arange(300.0, 421.0, 1.0)
GLASS = 0.9 / (1 + np.exp(-(X - 312) / 5))
FILM = 0.3 + 0.6 / (1 + np.exp(-(X - 370) / 12))
PLAIN, SUN = Definition(UVA), Definition(UVA, am15())
Vector = NDArray[np.float64]


def repeats(level: Vector, rng: np.random.Generator, sd: float, n: int = 3) -> tuple[Spectrum, ...]:
    return tuple(
        spectrum(f"{rng.integers(1 << 60)}", X, level + rng.normal(0, sd, X.size)) for _ in range(n)
    )


def slide(
    zone: str, film: Vector | float, seed: int = 1, sd: float = 0.0, age: float = 1.0
) -> Slide:
    rng = np.random.default_rng(seed)
    return Slide(zone, repeats(GLASS, rng, sd), repeats(GLASS * film * age, rng, sd))


def test_the_bands_mean_is_that_of_the_film_and_the_glass_cancels() -> None:
    """The trapezoid over 315 to 400 nm of the film alone, though the glass passes 0.6 to 0.9."""
    sides = sides_of([slide("wax", FILM, age=0.97)], [slide("none", 1.0, age=0.97)])
    here = (X >= 315) & (X <= 400)
    wanted = float(np.trapezoid(FILM[here], X[here])) / 85
    found = film_in(sides, PLAIN)
    assert found.value == pytest.approx(wanted, rel=1e-12)
    assert found.note == ""


def test_beside_it_stands_what_a_band_meter_would_say() -> None:
    sides = sides_of([slide("wax", FILM, age=0.97)], [slide("none", 1.0, age=0.97)])
    here = (X >= 315) & (X <= 400)
    through = [float(np.trapezoid(level[here], X[here])) for level in (GLASS * FILM, GLASS)]
    found = film_in(sides, PLAIN)
    assert found.as_meter == pytest.approx(through[0] / through[1], rel=1e-12)
    assert found.value is not None
    assert abs(found.as_meter - found.value) > 0.005


@pytest.mark.parametrize(("film", "age"), [(0.62, 1.0), (0.99, 0.97), (0.05, 1.0)])
def test_a_bent_scale_moves_a_band_by_what_its_slides_let_through(film: float, age: float) -> None:
    """Spectra are bent by a thousandth of the beam in the middle, and the ratio taken anew."""

    def bent(one: Slide, by: float) -> Slide:
        bare, after = (
            tuple(spectrum("", X, s.values + 4 * by * s.values * (1 - s.values)) for s in spectra)
            for spectra in (one.bare, one.after)
        )
        return Slide(one.zone, bare, after)

    slides = [slide("wax", film, age=age)], [slide("none", 1.0, age=age)]
    # Where the glass is as good as level, so that a band's mean is what each of its points reads.
    band = Definition(Band(350.0, 400.0))
    pull = bend_pull(sides_of(*slides), band)
    moved = [
        film_in(sides_of(*([bent(s, by) for s in side] for side in slides)), band).as_meter
        for by in (-0.001, 0.001)
    ]
    assert pull is not None
    assert moved[0] is not None
    assert moved[1] is not None
    assert pull == pytest.approx(math.log(moved[1] / moved[0]) / 0.002, rel=0.01)
    assert pull == pytest.approx(4 * 0.9 * age * (1 - film), rel=0.01)


def test_a_band_that_the_blanks_do_not_let_through_has_no_value_and_says_so() -> None:
    found = film_in(sides_of([slide("wax", FILM)], [slide("none", 1.0)]), Definition(UVB))
    assert found.value is None
    assert "280 to" in found.note
    assert "The blanks let less than 10 % through" in found.note


def test_the_interval_of_repeated_spectra_holds_the_truth_in_95_of_100_drawn_films() -> None:
    """400 films of 16 spectra; points scatter by a lamp in common and each by itself."""
    rng = np.random.default_rng(77)
    here = (X >= 315) & (X <= 400)
    wanted = float(np.trapezoid(FILM[here], X[here])) / 85
    held = 0
    for _ in range(400):

        def lamp(level: Vector) -> tuple[Spectrum, ...]:
            return tuple(
                spectrum(
                    f"{rng.integers(1 << 60)}", X,
                    level * (1 + rng.normal(0, 0.01)) + rng.normal(0, 0.005, X.size),
                )
                for _ in range(4)
            )  # fmt: skip

        sides = sides_of(
            [Slide("wax", lamp(GLASS), lamp(GLASS * FILM))],
            [Slide("none", lamp(GLASS), lamp(GLASS))],
        )
        found = film_in(sides, PLAIN)
        assert found.value is not None
        held += abs(found.value - wanted) <= reach_of(found.terms).half_width(0.05)
    assert held / 400 >= 0.95


def test_several_slides_a_side_are_judged_by_their_spread() -> None:
    treated = [slide(f"wax{k}", FILM * (1 + 0.01 * k), k) for k in range(3)]
    control = [slide(f"none{k}", 1 + 0.005 * k, 9 + k) for k in range(2)]
    found = film_in(sides_of(treated, control), PLAIN)
    assert found.value is not None
    # Standard deviation of 1, 1.01, 1.02 over the root of 3; of 1 and 1.005 over the root of 2.
    assert found.terms[0].u / found.value == pytest.approx(0.01 / math.sqrt(3) / 1.01, rel=1e-9)
    assert found.terms[1].u / found.value == pytest.approx(0.0025 / 1.0025, rel=1e-9)
    assert [t.nu for t in found.terms] == [2, 1]


def test_against_a_box_of_blanks_it_is_the_film_of_the_slides_engine() -> None:
    rng = np.random.default_rng(3)
    coated = [repeats(GLASS * FILM * (1 + e), rng, 0.001) for e in (0, 0.01, -0.01)]
    blanks = [repeats(GLASS * (1 + e), rng, 0.001) for e in (0, 0.005, -0.005, 0.002)]
    sides = sides_of(
        [Slide(f"wax{k}", (), s) for k, s in enumerate(coated)],
        [Slide(f"none{k}", (), s) for k, s in enumerate(blanks)],
    )
    found = film_in(sides, SUN)
    other = film_of_spectra(SUN, list(map(mean_spectrum, coated)), list(map(mean_spectrum, blanks)))
    assert other.budget is not None
    assert found.value == pytest.approx(other.value, rel=1e-12)
    assert math.hypot(*(t.contribution for t in found.terms)) == pytest.approx(
        other.budget.combined, rel=1e-9
    )


def test_a_slide_that_was_read_once_has_a_value_and_no_uncertainty() -> None:
    rng = np.random.default_rng(3)
    once = Slide("wax", repeats(GLASS, rng, 0.001), repeats(GLASS * FILM, rng, 0.001, 1))
    found = film_in(sides_of([once], [slide("none", 1.0)]), PLAIN)
    assert found.value is not None
    assert found.terms == ()
    assert found.lacking == "wax was read once, so its scatter is unknown"


def test_a_point_without_a_figure_is_bridged_where_its_neighbours_are_near_and_else_a_gap() -> None:
    holed = GLASS * FILM
    holed = np.where((X > 340) & (X < 352), np.inf, holed)
    after = (spectrum("a", X, holed), spectrum("b", X, holed))
    treated = Slide("wax", repeats(GLASS, np.random.default_rng(1), 0.0), after)
    found = film_in(sides_of([treated], [slide("none", 1.0)]), PLAIN)
    assert found.value is None
    assert "340 to 352 nm" in found.note
    assert film_in(sides_of([treated], [slide("none", 1.0)]), Definition(Band(360, 400))).value


def test_slides_with_and_without_a_bare_spectrum_do_not_mix() -> None:
    with pytest.raises(ValueError, match="either all slides were read bare or none"):
        sides_of([slide("wax", FILM)], [Slide("none", (), slide("none", 1.0).after)])
