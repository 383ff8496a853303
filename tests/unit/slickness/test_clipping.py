"""A peak that the range cut off, where the range is not known: no chance is taken for it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from acquire.analysis.slickness.clipping import equal_on_top, stood_on_top
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


def seldom(rate: float, end_n: float, seed: int) -> Segmented:
    """A pull up to 0.7 N within a second, by a gauge that sends seldom and ends where it does."""
    at = np.arange(0, 7, 1 / rate) + np.random.default_rng(seed).uniform(0, 1 / rate)
    force = np.interp(at, (0, 2, 3, 3.06, 5, 5.1, 7), (0, 0, 0.7, 0.5, 0.5, 0, 0))
    noisy = force + 0.0004 * np.random.default_rng(seed).standard_normal(force.size)
    return segment(np.round(np.minimum(noisy, end_n), 3), rate, RULES)


EQUAL = "highest samples are equal and none of the trace is higher"


@pytest.mark.parametrize("rate", [20.0, 50.0, 100.0])
def test_equal_samples_on_top_of_a_gauge_that_sends_seldom_leave_a_peak_in_doubt(
    rate: float,
) -> None:
    told = 0
    for seed in range(20):
        for pull in seldom(rate, 0.6, seed).pulls:
            assert any(EQUAL in remark for remark in pull.remarks)
            told += 1
        (whole,) = seldom(rate, 5.0, seed).pulls
        assert not any(EQUAL in remark for remark in whole.remarks)
    assert told >= 10


def test_equal_samples_tell_nothing_below_the_top_or_where_the_force_moves_by_few_steps() -> None:
    force = np.array([0.0, 0.01, 0.1, 0.2, 0.3, 0.3, 0.3, 0.2, 0.1, 0.0])
    assert equal_on_top(force, slice(0, 10), 0.1) == 3
    assert equal_on_top(force, slice(0, 4), 0.1) == 0
    assert equal_on_top(force, slice(0, 10), 0.05) == 0
    assert equal_on_top(np.append(force, 0.4), slice(0, 10), 0.1) == 0
    assert equal_on_top(np.zeros(9), slice(0, 9), 0.1) == 0
