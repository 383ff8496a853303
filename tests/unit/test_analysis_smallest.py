"""The smallest change of a film that a run could have seen is of a film that does so little."""

from __future__ import annotations

import math
import statistics
from dataclasses import replace

import numpy as np
import pytest

from acquire.analysis.bend import Bend
from acquire.analysis.comparison import Comparison
from acquire.analysis.results import MeasureResult
from acquire.analysis.standing import standing
from tests.unit.analysis_bench import judged, quiet
from tests.unit.film_bench import films_of

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
