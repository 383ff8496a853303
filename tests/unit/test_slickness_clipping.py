"""A peak that the range cut off, where the range is not known: no chance is taken for it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from acquire.analysis.slickness.clipping import stood_on_top
from acquire.analysis.slickness.pull import Segmented, Why
from acquire.analysis.slickness.rules import Rules
from acquire.analysis.slickness.segment import segment

RATE = 1000.0
STEP = 0.01
RULES = Rules.for_weight(2.0)


def slow_pull(rise_s: float) -> NDArray[np.float64]:
    """Of 0.7 N, over the rise and a slide of a second at 0.5 N, with slack line around it."""
    slide = np.arange(1, round(RATE)) / RATE
    return np.concatenate(
        (
            np.zeros(1500),
            np.linspace(0, 0.7, round(rise_s * RATE)),
            0.5 + 0.2 * np.exp(-slide / 0.03),
            np.linspace(0.5, 0, 100),
            np.zeros(1000),
        )
    )


def shown(force_n: NDArray[np.float64], noise: float, seed: int, end_n: float) -> Segmented:
    """By a gauge with noise of so many steps, and with the end of its range where it is."""
    noisy = force_n + noise * STEP * np.random.default_rng(seed).standard_normal(force_n.size)
    return segment(np.round(np.minimum(noisy, end_n) / STEP) * STEP, RATE, RULES)


@pytest.mark.parametrize("noise", [0.3, 0.55, 0.6, 0.7, 1.0])
def test_a_sound_pull_is_never_over_the_range_by_chance(noise: float) -> None:
    for seed in range(25):
        found = shown(slow_pull(3.0), noise, seed, 5.0)
        assert [r.why for r in found.rejected] == []
        assert len(found.pulls) == 1


@pytest.mark.parametrize("noise", [0.45, 0.6, 1.0, 3.0])
def test_a_peak_that_an_unknown_range_cut_off_is_no_pull(noise: float) -> None:
    found = shown(slow_pull(3.0), noise, 1, 0.6)
    assert found.pulls == ()
    assert [r.why for r in found.rejected] == [Why.SATURATED]


def test_a_run_is_no_chance_from_where_the_normal_law_says_so() -> None:
    """Within one sd of the middle lie 68.27 % (normal table): of 100 samples 36 in a row are 1e-4.

    100 x 0.6827^36 = 1.08e-4 and 100 x 0.6827^37 = 0.74e-4.
    """
    noise = STEP * math.sqrt(0.5**2 + 1 / 12)
    for run, told in ((36, 0), (37, 37)):
        force = np.tile([0.5, 0.49], 50)
        force[20 : 20 + run] = 0.5
        # The sample behind the run parts it from the next one.
        force[19], force[20 + run] = 0.49, 0.49
        assert stood_on_top(force, 0.5, noise) == told


def test_a_gauge_without_noise_and_what_stays_below_the_largest_tell_nothing() -> None:
    force = np.concatenate((np.linspace(0, 0.5, 51), np.full(1000, 0.5)))
    assert stood_on_top(np.round(force, 2), 0.5, STEP / 12**0.5) == 0
    assert stood_on_top(np.round(force, 2), 0.6, STEP) == 0
    assert stood_on_top(np.empty(0), 0.6, STEP) == 0
