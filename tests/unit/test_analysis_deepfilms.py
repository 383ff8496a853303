"""Films of unlike depth, whose slides tell together how slides differ, and what is said of them."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import pytest

from acquire.analysis.filmrules import DEEPER
from acquire.analysis.results import MeasureResult
from acquire.report.headline import is_of_all
from tests.unit.analysis_bench import judged
from tests.unit.film_bench import films_of

WEAK = {"nil": 0.0, "weak": 0.01, "mid": 0.05}
"""Depths in natural logarithms; the film that lets 22 % through has 1.5."""


def drawn(
    depths: Mapping[str, float],
    slides: int,
    source: np.random.Generator,
    *,
    stages: tuple[str, ...] = ("bare", "applied"),
) -> MeasureResult:
    """Slides that are their own blanks, of films whose thickness varies by 5 % of itself."""
    readings = {}
    for treatment, depth in {"control": 0.0, **depths}.items():
        for number in range(slides):
            blank = 91.0 + source.normal(0.0, 0.2)
            own = depth * (1 + source.normal(0.0, 0.05))
            for stage in stages:
                light = blank if stage == "bare" else blank * math.exp(-own)
                values = np.round(source.normal(light, 0.03, 3), 2)
                readings[f"{treatment}{number}", stage] = tuple(map(float, values))
    return films_of(readings, resolution=0.01)


@pytest.mark.parametrize(
    ("slides", "least", "most"), [(2, 11, 23), (3, 5, 14), (5, 2, 10)], ids=["17", "9", "6"]
)
def test_one_film_far_deeper_than_all_others_is_missed_as_often_as_the_page_says(
    slides: int, least: float, most: float
) -> None:
    source, runs, missed, false = np.random.default_rng(41), 150, 0, 0
    for _ in range(runs):
        result = drawn({**WEAK, "deep": 1.5}, slides, source)
        film = judged(result, "deep").film
        assert film is not None
        missed += not film.interval[0] <= math.exp(-1.5) <= film.interval[1]
        false += judged(result, "nil").is_difference_shown
    assert least <= 100 * missed / runs <= most
    assert false / runs <= 0.02


def test_films_of_one_depth_are_held_together_in_95_of_100_drawn_trials() -> None:
    source, runs, held = np.random.default_rng(42), 150, 0
    depths = {"one": 1.5, "two": 1.5, "three": 1.2, "four": 1.4}
    for _ in range(runs):
        result = drawn(depths, 2, source)
        films = {name: judged(result, name).film for name in depths}
        held += all(
            film is not None and film.interval[0] <= math.exp(-depths[name]) <= film.interval[1]
            for name, film in films.items()
        )
    assert held / runs >= 0.93


def test_the_condition_is_said_where_slides_of_all_films_tell_together_and_only_there() -> None:
    source = np.random.default_rng(43)
    several = drawn({"weak": 0.01, "deep": 1.5}, 2, source)
    single = drawn({"weak": 0.01, "deep": 1.5}, 1, source)
    two = drawn({"deep": 1.5}, 3, source)
    box = drawn({"weak": 0.01, "deep": 1.5}, 3, source, stages=("applied",))
    for result, is_said in ((several, True), (single, False), (two, False), (box, False)):
        assert any(DEEPER in rule for rule in result.rules) is is_said
        assert any(is_of_all(found) for found in result.comparisons) is is_said
