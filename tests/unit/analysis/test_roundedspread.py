"""The spread of rounded means: by every corner of what rounding allows, and by drawing."""

from __future__ import annotations

from itertools import product
from math import sqrt
from statistics import stdev

import numpy as np
import pytest

from acquire.analysis.specimens.roundedspread import rounded_spread
from acquire.analysis.specimens.slidespread import Blanks
from tests.unit.analysis.bench import judged
from tests.unit.analysis.stills import Stills, false_rates
from tests.unit.film_bench import films_of


def test_the_spread_is_the_largest_of_all_corners_that_rounding_allows() -> None:
    """A sum of squared deviations is convex, so a corner is largest: all corners are tried."""
    draw = np.random.default_rng(5)
    for count in (2, 3, 4, 6):
        for _ in range(40):
            values = draw.integers(0, 3, count).astype(float).tolist()
            corners = (
                stdev(v + s / 4 for v, s in zip(values, signs, strict=True))
                for signs in product((-1, 1), repeat=count)
            )
            largest = max(stdev(values), min(max(corners), sqrt(2) / 4))
            found = rounded_spread(values, [0.5] * count)
            assert found.sd == pytest.approx(largest)
            assert found.is_raised == (largest > stdev(values))


def test_equal_rounded_means_are_never_without_spread() -> None:
    assert rounded_spread([90.0, 90.0], [0.05, 0.05]).sd == pytest.approx(sqrt(2) * 0.025)
    assert rounded_spread([90.0] * 9, [0.05] * 9).sd > 0.025


def test_a_spread_beyond_the_step_and_one_without_a_step_stay_as_they_are() -> None:
    beyond = rounded_spread([90.0, 90.4], [0.05, 0.05])
    assert beyond.sd == pytest.approx(0.4 / sqrt(2))
    assert not beyond.is_raised
    no_step = rounded_spread([90.0, 90.0], [0.0, 0.0])
    assert no_step.sd == 0
    assert not no_step.is_raised


def test_fewer_than_two_means_or_halves_that_do_not_match_are_refused() -> None:
    with pytest.raises(ValueError, match="got 1 values and 1 halves"):
        rounded_spread([90.0], [0.05])
    with pytest.raises(ValueError, match="got 2 values and 1 halves"):
        rounded_spread([90.0, 90.1], [0.05])
    with pytest.raises(ValueError, match="two blanks are wanted"):
        _ = Blanks("control", (4.5,), (0.0,), 0.1).spread


def test_two_equal_blanks_do_not_make_a_film_of_the_last_digit() -> None:
    read = {("control0", "applied"): (90.0,) * 3, ("control1", "applied"): (90.0,) * 3}
    found = judged(films_of(read | {("wax0", "applied"): (89.7,) * 3}, resolution=0.1), "wax")
    (blanks,) = (t for t in found.budget.terms if t.name == "spread of the blanks")
    assert blanks.u == pytest.approx(sqrt(2) * 0.025 / 90)
    assert blanks.nu == 1
    assert "for the step of the display of 0.1 %" in blanks.note
    assert not found.is_difference_shown


@pytest.mark.parametrize(
    ("stills", "runs"),
    [
        # Without the rule about 40 of 100 against the control, 38 and 19 of 100 among treatments.
        (Stills(5, 2, 1, 3, 0.5, of_films=True), 40),
        (Stills(5, 3, 2, 3, 0.8, of_films=True), 40),
        (Stills(8, 2, 2, 1, 1.2), 40),
    ],
    ids=str,
)
def test_still_things_apart_by_less_than_a_step_are_told_apart_in_5_of_100_at_most(
    stills: Stills, runs: int
) -> None:
    control, pairs = false_rates(stills, runs)
    assert max(control, pairs) <= 0.05


def test_readings_of_one_zone_that_hide_in_the_step_need_no_such_rule() -> None:
    """Three readings a cell, scatter 0.3 of a step: the display's own line holds the rate."""
    assert max(false_rates(Stills(5, 1, 1, 3, 0.0, 0.3), 40)) <= 0.05
