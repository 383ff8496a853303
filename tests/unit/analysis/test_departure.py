"""How far a drift off the straight line moves a contrast, against every course one can draw."""

from __future__ import annotations

import math

import numpy as np
import pytest

from acquire.analysis.checks.departure import Read, departure_among, departure_of

HALVES = [(0.25, -1.0), (0.75, 1.0)]
"""One reading of each side, a quarter and three quarters of the way."""


def test_a_step_at_any_time_departs_from_the_line_by_its_mean_square() -> None:
    # S is 1 between the readings, half of the time, and 0 else; the lever is a half.
    found = departure_of(HALVES)
    assert found.step == pytest.approx(0.5)
    assert found.largest == pytest.approx(0.5)
    assert found.u == found.step


def test_a_rare_step_counts_by_the_most_that_it_can_do() -> None:
    found = departure_of([(0.50, -1.0), (0.51, 1.0)])
    assert found.step == pytest.approx(math.sqrt(0.01 * 0.99))
    assert found.largest == pytest.approx(0.99)
    assert found.u == found.largest / math.sqrt(3)


def test_the_mean_square_is_that_of_steps_drawn_at_random() -> None:
    draw = np.random.default_rng(5)
    positions, weights = draw.random(8), draw.normal(0, 1, 8)
    at = draw.random(200_000)
    moved = (weights[:, None] * (positions[:, None] > at)).sum(axis=0)
    found = departure_of(list(zip(positions.tolist(), weights.tolist(), strict=True)))
    assert moved.mean() == pytest.approx(float(positions @ weights), abs=0.01)
    assert found.step == pytest.approx(moved.std(), rel=0.01)


def test_no_drift_in_one_direction_departs_farther_than_the_largest() -> None:
    draw = np.random.default_rng(6)
    for _ in range(200):
        positions, weights = np.sort(draw.random(6)), draw.normal(0, 1, 6)
        course = np.sort(np.append(draw.random(5) ** draw.integers(1, 9), draw.random()))
        departed = float(weights @ (course - positions))
        found = departure_of(list(zip(positions.tolist(), weights.tolist(), strict=True)))
        assert abs(departed) <= found.largest + 1e-12


def test_readings_that_alternate_leave_little_to_any_course() -> None:
    n = 5
    by_zone = [((k + 1) / 11, -1 / n if k < n else 1 / n) for k in range(2 * n)]
    in_turn = [((k + 1) / 11, 1 / n if k % 2 else -1 / n) for k in range(2 * n)]
    assert departure_of(in_turn).u < departure_of(by_zone).u / 3


def test_nothing_read_or_all_at_one_end_departs_by_no_more_than_its_weight() -> None:
    assert departure_of([]) == (0.0, 0.0)
    assert departure_of([(1.0, 1.0)]) == (0.0, 0.0)
    assert departure_of([(0.0, 1.0)]) == (0.0, 0.0)


@pytest.mark.parametrize("readings", [3, 29, 30, 400])
def test_many_readings_in_stretches_come_to_the_same_as_one_by_one(readings: int) -> None:
    """Few go by the loop and many by arrays; several share their moment, as channels of a press."""
    rng = np.random.default_rng(readings)
    stretches = [
        (
            Read(
                tuple(np.round(rng.random(readings), 2).tolist()),
                tuple(rng.uniform(0.9, 1.1, readings).tolist()),
            ),
            each / readings,
        )
        for each in (1.0, -1.0)
    ]
    pairs = [
        (p, each * pull)
        for own, each in stretches
        for p, pull in zip(own.positions, own.pulls, strict=True)
    ]
    weight, lever = math.fsum(w for _, w in pairs), math.fsum(p * w for p, w in pairs)
    found = departure_among(stretches, weight, lever)
    assert found == pytest.approx(departure_of(pairs), rel=1e-12)
    assert found.times(-2.0) == pytest.approx((2 * found.step, 2 * found.largest))
