"""What a film would scatter by if it did less than it does."""

from __future__ import annotations

import math

import numpy as np
import pytest

from acquire.analysis.comparisons.depthscatter import DepthScatter, of_noise, of_thickness
from acquire.analysis.specimens.depthlaw import Found, at_no_depth


def test_of_a_clear_slide_and_a_restless_film_the_scatter_at_no_depth_is_the_slides() -> None:
    found = [Found(0.0, 4e-8, 4), Found(3.0, 9e-3, 4)]
    assert at_no_depth(found, of_thickness) == pytest.approx(4e-8, rel=0.02)


def test_where_the_deeper_film_scatters_less_all_have_one_variance() -> None:
    found = [Found(0.0, 4e-8, 4), Found(3.0, 1e-8, 8)]
    assert at_no_depth(found, of_thickness) == pytest.approx((4 * 4e-8 + 8 * 1e-8) / 12)


def test_nothing_is_told_by_nothing() -> None:
    assert at_no_depth([], of_noise) is None
    assert at_no_depth([Found(0.0, 0.0, 4), Found(1.0, 0.0, 4)], of_noise) is None
    assert DepthScatter(1.0, None, None, 0.0).of_readings(0.1, 0.0) == 0.1
    assert DepthScatter(1.0, None, 1e-4, 0.0).of_slides(0.0) == 1.0


def test_a_steady_noise_in_percent_of_the_beam_is_found_from_films_of_all_depths() -> None:
    """Chi-squared variances of many cells, of a noise that is 1e-3 of the clear beam."""
    source = np.random.default_rng(5)
    found = [
        Found(depth, 1e-6 * math.exp(2 * depth) * source.chisquare(4) / 4, 4)
        for depth in (0.0, 0.1, 0.7, 1.6, 4.6)
        for _ in range(40)
    ]
    assert at_no_depth(found, of_noise) == pytest.approx(1e-6, rel=0.1)


def test_between_none_and_its_own_depth_a_film_scatters_by_its_part_and_beyond_as_found() -> None:
    scatter = DepthScatter(2.0, 1e-6, 1e-6, 4e-4)
    assert scatter.of_slides(0.0) == pytest.approx(math.sqrt(1e-6 / 4e-4))
    assert scatter.of_slides(1.0) == pytest.approx(math.sqrt((1e-6 + 0.25 * 3.99e-4) / 4e-4))
    assert scatter.of_slides(2.0) == scatter.of_slides(3.0) == 1.0
    noisy = 1e-3 * math.exp(2.0)
    assert scatter.of_readings(noisy, 0.5) == pytest.approx(1e-3 * math.exp(0.5))
    assert scatter.of_readings(noisy, 2.5) == pytest.approx(noisy)
