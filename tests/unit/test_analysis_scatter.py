"""Pooling the scatter: when it is done, when not, and that it says so."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from acquire.analysis.cell import gather
from acquire.analysis.contrast import change_of, value_of
from acquire.analysis.scatter import Scatter, bartlett, pooled_sd, scatter_of
from tests.unit.analysis_bench import Readings, samples_of

QUIET = (90.0, 90.1, 90.2)
NOISY = (80.0, 95.0, 88.0)


def scatter(readings: Readings, resolution: float = 0.1) -> Scatter:
    return scatter_of(cells_of(readings), resolution, "gloss_unit")


def cells_of(readings: Readings):
    zones = [(z, z) for z in dict.fromkeys(z for z, _ in readings)]
    stages = list(dict.fromkeys(s for _, s in readings))
    return gather(zones, stages, samples_of(readings), (), 0.1)


@pytest.mark.parametrize("seed", range(4))
def test_bartletts_p_agrees_with_scipy(seed: int) -> None:
    draw = np.random.default_rng(seed)
    groups = [draw.normal(90, s, n) for s, n in ((0.2, 5), (0.3, 4), (0.2, 7), (0.5, 3))]
    ours = bartlett([float(np.std(g, ddof=1)) for g in groups], [len(g) - 1.0 for g in groups])
    assert ours == pytest.approx(float(stats.bartlett(*groups).pvalue))


def test_nothing_to_compare_contradicts_nothing() -> None:
    assert bartlett([0.2], [4]) == 1.0
    assert bartlett([0.2, 0.2], [4, 2]) == 1.0
    assert bartlett([0.0, 0.0], [4, 2]) == 1.0
    assert bartlett([0.0, 0.2], [4, 4]) == 0.0


def test_variances_are_pooled_and_not_standard_deviations() -> None:
    assert pooled_sd([3.0, 4.0], [1, 1]).sd == pytest.approx(12.5**0.5)
    with pytest.raises(ValueError, match="no degrees of freedom"):
        pooled_sd([], [])


def test_like_scatters_are_pooled_over_zones_and_stages() -> None:
    s = scatter({("control", "bare"): QUIET, ("wax", "bare"): QUIET, ("wax", "applied"): QUIET})
    assert (s.is_pooled, s.nu) == (True, 6)
    assert s.sd == pytest.approx(0.1)
    assert "pooled over 3 zones and stages" in s.rule
    assert "0.10 GU with 6 degrees of freedom" in s.rule


def test_clearly_different_scatters_stay_apart_and_the_rule_says_why() -> None:
    readings = {("control", "bare"): QUIET, ("wax", "bare"): QUIET, ("wax", "applied"): NOISY}
    s = scatter(readings)
    assert not s.is_pooled
    assert "clearly differs between zones or stages (Bartlett's test, p < 0.0001)" in s.rule
    cells = cells_of(readings)
    terms = s.terms(change_of([(cells[2], cells[3])]))
    assert [t.nu for t in terms] == [2, 2]
    assert [t.name for t in terms] == ["scatter in zone wax, bare", "scatter in zone wax, applied"]


def test_apart_a_single_reading_has_no_scatter_to_borrow() -> None:
    readings = {
        ("control", "bare"): QUIET,
        ("wax", "bare"): QUIET,
        ("wax", "applied"): NOISY,
        ("seal", "bare"): (90.0,),
    }
    s = scatter(readings)
    lonely = value_of(next(c for c in cells_of(readings) if c.n == 1))
    assert "only one reading of zone seal at bare" in s.lacking(lonely)
    with pytest.raises(ValueError, match="only one reading"):
        s.terms(lonely)


def test_pooled_a_single_reading_borrows_the_scatter_of_the_others() -> None:
    readings = {("control", "bare"): QUIET, ("wax", "bare"): (90.0,)}
    s = scatter(readings)
    lonely = value_of(next(c for c in cells_of(readings) if c.n == 1))
    assert s.lacking(lonely) == ""
    assert s.variance(lonely) == pytest.approx(0.01)
    assert "One zone and stage was read more than once" in s.rule


def test_rounding_alone_does_not_make_scatters_differ() -> None:
    # Equal readings beside readings one step apart: all of it is rounding.
    s = scatter(
        {
            ("control", "bare"): (90.0,) * 5,
            ("wax", "bare"): (90.0, 90.1, 90.0, 90.1, 90.0),
            ("seal", "bare"): (91.0,) * 5,
        }
    )
    assert s.is_pooled


def test_without_a_second_reading_there_is_no_scatter() -> None:
    s = scatter({("control", "bare"): (90.0,), ("wax", "bare"): (91.0,)})
    assert (s.sd, s.nu, s.is_pooled) == (None, 0.0, False)
    assert "unknown" in s.rule


def test_equal_readings_everywhere_leave_the_display_step() -> None:
    s = scatter({("control", "bare"): (90.0,) * 3, ("wax", "bare"): (91.0,) * 3})
    assert (s.sd, s.is_pooled) == (0.0, True)
    assert "resolution of the display stands for it" in s.rule
