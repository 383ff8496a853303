"""The smallest change of a film that a run could have seen is of a film that does so little."""

from __future__ import annotations

import math
import statistics
from dataclasses import replace

import numpy as np
import pytest

from acquire.analysis.checks.bend import Bend
from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.places.standing import standing
from acquire.analysis.results import MeasureResult
from acquire.analysis.scale import TAKEN_AT_SIZE
from tests.unit.analysis.bench import judged, quiet
from tests.unit.film_bench import films_of

THICKNESS = 0.05
"""By which part of itself the thickness of a film differs from slide to slide."""
U_BEND = 0.16
"""Percent of the beam, of a filter of 50 % that is certified to +-0.32 % (k = 2)."""
BLANK = 84.0
DRIFT = 0.05


def trial(
    films: dict[str, float],
    *,
    found: float = 0.0,
    bend: float = 0.0,
    drift: float = 0.0,
    draw: np.random.Generator | None = None,
) -> MeasureResult:
    """Slides of their own as blanks, four readings each, by a head whose bend no check shows."""

    def read(value: float) -> tuple[float, ...]:
        part = value / 100
        value += 4 * part * (1 - part) * bend
        if draw is None:
            # As much of each as of the other, so that the head alone tells deep from slight.
            return tuple(value * (1 + off) for off in (-2e-4, -1e-4, 1e-4, 2e-4))
        return tuple(value * (1 + draw.normal(0.0, 2e-4, 4)))

    readings = {
        (zone, stage): read(BLANK * film)
        for zone, own in {"control": 1.0, **films}.items()
        for stage, film in (("bare", 1.0), ("applied", own))
    }
    brackets = [
        replace(
            quiet(stage, 1000.0 * i),
            tile_u=0.0,
            drift=drift,
            bends=(Bend("LG-1", 1, "N50", (0.0, 100.0), found, U_BEND, math.inf),),
        )
        for i, stage in enumerate(("bare", "applied"))
    ]
    return films_of(readings, brackets=brackets, resolution=0.001)


def seen(result: MeasureResult, treatment: str = "wax") -> float:
    return judged(result, treatment).smallest_visible


@pytest.mark.parametrize("film", [0.9, 0.62, 0.3])
def test_a_deep_film_is_named_the_same_smallest_change_as_a_slight_one(film: float) -> None:
    """The certificate of the filter makes much of the interval of a deep film."""
    deep, slight = trial({"wax": film}), trial({"wax": 0.998})
    own, other = judged(deep, "wax").budget, judged(slight, "wax").budget
    assert own.combined > (2 if film < 0.7 else 1.2) * other.combined
    assert seen(deep) == pytest.approx(seen(slight), rel=0.03)


def test_of_drawn_runs_80_in_100_show_the_change_that_a_run_with_a_deep_film_names() -> None:
    source = np.random.default_rng(44)

    def drawn(film: float) -> Comparison:
        bend = float(source.normal(0.0, U_BEND))
        return judged(trial({"wax": film}, bend=bend, draw=source), "wax")

    named = statistics.median(drawn(0.62).smallest_visible for _ in range(40))
    shown = [drawn(math.exp(-named)).is_difference_shown for _ in range(300)]
    assert 0.72 < sum(shown) / len(shown) < 0.93


def test_what_checks_found_of_bend_and_drift_hides_as_much_as_it_does_to_a_slight_film() -> None:
    shifted = trial({"wax": 0.62}, found=0.5, drift=DRIFT)
    assert abs(judged(shifted, "wax").budget.bias) > 0.005
    assert seen(shifted) < 1.5 * seen(trial({"wax": 0.62}, drift=DRIFT))


def test_two_deep_films_are_named_the_smallest_difference_of_films_that_hardly_differ() -> None:
    apart = standing(trial({"wax": 0.62, "oil": 0.9}), {"wax": "Wax", "oil": "Oil"}, "applied")
    near = standing(trial({"wax": 0.898, "oil": 0.9}), {"wax": "Wax", "oil": "Oil"}, "applied")
    assert apart is not None
    assert near is not None
    (pair,), (close,) = apart.pairs, near.pairs
    assert pair.half_width > 2 * close.half_width
    assert pair.smallest_visible < 1.4 * close.smallest_visible
    assert f"({TAKEN_AT_SIZE})" in pair.sentence
    assert "taken at that size" not in close.sentence


def test_readings_that_tell_next_to_nothing_name_a_change_all_the_same() -> None:
    """Upwards it ends at the open beam; where none is shown by its own lines, as the film was."""
    for applied in ((84.0, 96.0), (84.0, 20.0), (0.2, 0.9)):
        bends = (Bend("LG-1", 1, "N50", (0.0, 100.0), 0.0, U_BEND, math.inf),)
        wild = films_of(
            {
                ("control", "bare"): (84.0, 84.1),
                ("control", "applied"): (84.0, 84.1),
                ("wax", "bare"): (84.0, 84.2),
                ("wax", "applied"): applied,
            },
            brackets=[
                replace(quiet(stage, 1000.0 * i), tile_u=0.0, bends=bends)
                for i, stage in enumerate(("bare", "applied"))
            ],
            resolution=0.1,
        )
        found = wild.comparison("wax", "applied")
        if isinstance(found, Comparison):
            assert 0.5 < found.smallest_visible < math.inf


def coated(
    films: dict[str, float],
    source: np.random.Generator,
    *,
    slides: int,
    noise: float,
    is_box: bool = False,
    block: float = 0.0,
) -> MeasureResult:
    """Slides of films of so much transmittance, with five readings each; `noise` in percent.

    Of a box five blanks stand beside the coated slides, which were not read bare. With `block`
    slides lie in blocks that differ by that part of the light after coating.
    """
    readings = {}
    lamp = [1 + source.normal(0.0, block) for _ in range(slides)] if block else [1.0] * 5
    for treatment, film in {"control": 1.0, **films}.items():
        for number in range(5 if is_box and treatment == "control" else slides):
            blank = 91.0 * (1 + source.normal(0.0, 0.002))
            through = blank * lamp[number] * film ** (1 + source.normal(0.0, THICKNESS))
            for stage, light in (("bare", blank), ("applied", through)):
                if stage == "applied" or not is_box:
                    values = np.round(source.normal(light, noise, 5), 2)
                    readings[f"{treatment}{number}", stage] = tuple(map(float, values))
    return films_of(readings, resolution=0.01, in_blocks=block > 0)


@pytest.mark.parametrize(
    ("slides", "noise", "is_box", "least", "most"),
    [
        (1, 0.1, False, 0.65, 0.90),
        (2, 0.03, False, 0.60, 0.90),
        (3, 0.1, False, 0.60, 0.90),
        (3, 0.03, True, 0.60, 0.90),
    ],
)
@pytest.mark.parametrize("film", [0.02, 0.2])
def test_what_a_run_with_a_strong_film_names_is_shown_of_a_film_that_does_just_so_little(
    film: float, slides: int, noise: float, is_box: bool, least: float, most: float
) -> None:
    """80 in 100 by its own spread; less, as the page says, of what few slides name for theirs."""
    source = np.random.default_rng(81)

    def drawn(through: float) -> Comparison:
        found = coated({"wax": through}, source, slides=slides, noise=noise, is_box=is_box)
        return judged(found, "wax")

    named = statistics.median(drawn(film).smallest_visible for _ in range(40))
    shown = [drawn(math.exp(-named)).is_difference_shown for _ in range(120)]
    assert least < sum(shown) / len(shown) < most


def test_within_blocks_that_lie_apart_it_is_so_too_where_other_films_are_read_beside() -> None:
    source = np.random.default_rng(84)

    def drawn(through: float) -> Comparison:
        films = {"wax": through, "oil": 0.98, "spray": 0.97}
        found = judged(coated(films, source, slides=3, noise=0.03, block=0.003), "wax")
        assert found.blocks == 3
        return found

    named = statistics.median(drawn(0.2).smallest_visible for _ in range(80))
    shown = [drawn(math.exp(-named)).is_difference_shown for _ in range(120)]
    assert 0.7 < sum(shown) / len(shown) < 0.97


def test_a_strong_film_names_a_small_part_of_the_half_width_of_its_interval_with_its_digits() -> (
    None
):
    found = judged(coated({"wax": 0.01}, np.random.default_rng(82), slides=1, noise=0.1), "wax")
    assert found.smallest_visible < 0.1 * found.budget.expanded
    part = -100 * math.expm1(-found.smallest_visible)
    said = f"{part:.2f} % of the blank's light ({TAKEN_AT_SIZE})."
    assert f"The smallest change this run could have seen is {said}" in found.sentence


def test_of_two_films_the_deeper_is_taken_to_be_near_the_other_in_whichever_order() -> None:
    def seen_of(films: dict[str, float]) -> float:
        result = coated(films, np.random.default_rng(83), slides=1, noise=0.1)
        found = standing(result, {name: name for name in films}, "applied")
        assert found is not None
        (pair,) = found.pairs
        return pair.smallest_visible

    slight = seen_of({"wax": 0.97, "oil": 0.98})
    for films in ({"wax": 0.98, "oil": 0.02}, {"oil": 0.02, "wax": 0.98}):
        assert seen_of(films) == pytest.approx(slight, rel=0.3)


def test_slides_that_agree_by_chance_do_not_name_less_than_their_readings_make_them_differ() -> (
    None
):
    """Three slides of each, all alike to the digit but for their readings."""
    readings = {
        (f"{who}{number}", stage): (light - 0.1, light, light + 0.1)
        for who, applied in (("control", 90.0), ("wax", 9.0 + 0.0))
        for number in range(3)
        for stage, light in (("bare", 90.0), ("applied", applied + 0.4 * number * (who == "wax")))
    }
    found = judged(films_of(readings, resolution=0.01), "wax")
    assert found.smallest_visible > 2.9 * 0.1 / 90 * math.sqrt(2 / 9)


@pytest.mark.parametrize("slides", [2, 3])
def test_a_slight_loss_of_what_is_named_is_shown_as_often_as_a_gain_of_as_much(slides: int) -> None:
    """Of slides that are their own blanks and differ by 0.2 %, beside two films that do nothing."""
    source = np.random.default_rng(85)

    def drawn(change: float) -> Comparison:
        readings = {}
        for who, own in {"control": 0.0, "wax": change, "oil": 0.0, "gel": 0.0}.items():
            for number in range(slides):
                blank = 91.0 * (1 + source.normal(0.0, 0.003))
                for stage, moved in (("bare", 0.0), ("applied", own)):
                    light = blank * math.exp(moved + source.normal(0.0, 0.002))
                    values = np.round(source.normal(light, 0.03, 2), 2)
                    readings[f"{who}{number}", stage] = tuple(map(float, values))
        return judged(films_of(readings, resolution=0.01), "wax")

    clear = [drawn(0.0) for _ in range(40)]
    factor = statistics.median(found.smallest_visible / found.budget.combined for found in clear)
    size = factor * 2 * math.hypot(0.002, 0.03 / 91.0 / math.sqrt(2)) / math.sqrt(slides)
    for change in (-size, size):
        shown = [drawn(change).is_difference_shown for _ in range(200)]
        assert 0.73 < sum(shown) / len(shown) < 0.87
