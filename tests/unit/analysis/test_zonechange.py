"""The change of one zone by itself: how often its interval misses what is true."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.analysis.bench import result_of


@pytest.mark.parametrize(
    ("bare", "after"),
    [((5, 0.2), (2, 0.4)), ((2, 0.2), (2, 0.02)), ((3, 0.2), (3, 0.2))],
    ids=["few after many", "one of two scatters", "alike"],
)
def test_the_interval_of_a_zones_change_misses_in_five_of_a_hundred_at_most(
    bare: tuple[int, float], after: tuple[int, float]
) -> None:
    """Nothing changed; readings scatter as told. 800 zones: two standard errors are 1.5 %."""
    draw = np.random.default_rng(71)
    missed = zones = 0
    for _ in range(400):
        readings = {
            (zone, stage): draw.normal(80.0, sd, n).tolist()
            for zone in ("control", "wax")
            for stage, (n, sd) in (("bare", bare), ("applied", after))
        }
        for change in result_of(readings, resolution=0.0001).changes:
            assert change.budget is not None
            assert change.estimate is not None
            zones += 1
            missed += abs(change.estimate) > change.budget.expanded
    assert missed / zones <= 0.065
