"""Points that want a change to be shown, against drawn trials of which the true change is known."""

from __future__ import annotations

import numpy as np
import pytest

from acquire.report.points.scorelines import span_text
from tests.unit.analysis.bench import Readings
from tests.unit.score_bench import change, scored

POINTS = 2
TRIALS = 60
NAMES = ("wax", "seal", "oil", "spray")


def drawn(chance: np.random.Generator, gains: dict[str, float]) -> Readings:
    """Three readings of a zone each; zones move by 0.15 GU, readings scatter by 0.2."""
    readings: Readings = {}
    for name, gain in {"control": 0.0, **gains}.items():
        bare = 85 + chance.normal()
        for stage, level in (("bare", bare), ("applied", bare + gain + 0.15 * chance.normal())):
            readings[name, stage] = tuple(round(level + 0.2 * chance.normal(), 2) for _ in range(3))
    return readings


def held(mean: float, spread: float) -> tuple[float, float, int]:
    """The share of intervals that held the true points: of all products, of those that have one.

    With the number of those.
    """
    chance = np.random.default_rng(8)
    every: list[bool] = []
    own: list[bool] = []
    for _ in range(TRIALS):
        gains = {name: mean + spread * chance.normal() for name in NAMES}
        found = scored(
            drawn(chance, gains),
            change(points=str(POINTS), shown=True),
            resolution=0.01,
            draws=2000,
        )
        for p in found.products:
            assert p.low is not None
            assert p.high is not None
            is_held = p.low <= POINTS * gains[p.treatment] <= p.high
            every.append(is_held)
            if span_text(1, p) != "not shown":
                own.append(is_held)
    return sum(every) / len(every), sum(own) / len(own), len(own)


def test_well_beyond_the_limit_the_interval_is_of_the_points_of_the_true_change() -> None:
    share, own, count = held(4.0, 0.2)
    assert (count, own) == (TRIALS * len(NAMES), share)
    assert 0.92 <= share <= 0.99


@pytest.mark.parametrize(("mean", "spread"), [(0.3, 0.2), (0.5, 0.2)])
def test_near_the_limit_fewer_hold_the_true_points_and_fewest_where_not_shown_stands(
    mean: float, spread: float
) -> None:
    share, own, count = held(mean, spread)
    assert count < TRIALS * len(NAMES)
    assert share < own < 0.95
