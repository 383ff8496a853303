"""Scatter: each cell by its own, each zone as a unit, and decisions that keep their promise."""

from __future__ import annotations

import math

import pytest

from acquire.analysis.cells.cell import gather
from acquire.analysis.cells.contrast import change_of, value_of
from acquire.analysis.specimens.scatter import lacking, pooled_sd, scatter_of, scatter_terms
from acquire.analysis.treatments.decision import Decision
from tests.unit.analysis.bench import (
    BARE,
    UP,
    Readings,
    judged,
    refused,
    result_of,
    samples_of,
    trial,
)
from tests.unit.analysis.scatters import Scenario, allowance, false_rate

QUIET = (90.0, 90.1, 90.2)
NOISY = (80.0, 95.0, 88.0)


def cells_of(readings: Readings):
    zones = [(z, z) for z in dict.fromkeys(z for z, _ in readings)]
    stages = list(dict.fromkeys(s for _, s in readings))
    return gather(zones, stages, samples_of(readings), (), 0.1)


def test_variances_are_pooled_and_not_standard_deviations() -> None:
    assert pooled_sd([3.0, 4.0], [1, 1]).sd == pytest.approx(12.5**0.5)
    with pytest.raises(ValueError, match="no degrees of freedom"):
        pooled_sd([], [])


def test_each_cell_keeps_its_own_scatter_whether_or_not_they_look_alike() -> None:
    for applied in (QUIET, NOISY):
        cells = cells_of({("wax", "bare"): QUIET, ("wax", "applied"): applied})
        terms = scatter_terms(change_of([(cells[0], cells[1])]))
        assert [t.name for t in terms] == [
            "scatter in zone wax, bare",
            "scatter in zone wax, applied",
        ]
        assert [t.nu for t in terms] == [2, 2]
        assert [t.u for t in terms] == [c.summary.sd / math.sqrt(3) for c in cells]


def test_a_single_reading_has_no_scatter_and_none_is_lent_to_it() -> None:
    cells = cells_of({("control", "bare"): QUIET, ("wax", "bare"): (90.0,)})
    lonely = value_of(cells[1])
    assert "only one reading of zone wax at bare" in lacking(lonely)
    with pytest.raises(ValueError, match="only one reading"):
        scatter_terms(lonely)
    assert lacking(value_of(cells[0])) == ""


def test_the_scatter_of_all_is_told_with_how_it_is_counted() -> None:
    said = scatter_of(cells_of({("control", "bare"): QUIET, ("wax", "bare"): QUIET}), "gloss_unit")
    assert said.sd == pytest.approx(0.1)
    assert said.rule.startswith("Single readings scatter by 0.10 GU (root mean square over 2 zones")
    assert "judged by its own scatter" in said.rule


def test_without_a_second_reading_there_is_no_scatter() -> None:
    found = scatter_of(cells_of({("control", "bare"): (90.0,), ("wax", "bare"): (91.0,)}), "")
    assert (found.sd, found.nu) == (None, 0.0)
    assert "unknown" in found.rule


def test_equal_readings_everywhere_leave_the_display_step() -> None:
    found = scatter_of(cells_of({("control", "bare"): (90.0,) * 3}), "gloss_unit")
    assert found.sd == 0.0
    assert "resolution of the display stands for it" in found.rule


def test_two_readings_a_zone_are_judged_with_a_wide_limit_and_the_page_says_why() -> None:
    readings = trial(wax=(90.5, 90.6, 90.7))
    two = {place: values[:2] for place, values in readings.items()}
    comparison = judged(result_of(two), "wax")
    # Student's t at one degree of freedom is 12.7, and a mean of two is known to 0.05 GU.
    assert comparison.decision is Decision.NOT_SHOWN
    assert comparison.budget.expanded > 12.7 * 0.05
    assert judged(result_of(readings), "wax").decision is Decision.BETTER
    (said,) = [text for text in comparison.caveats if "Too few readings" in text]
    assert "2 of zone wax at bare, zone wax at applied, zone control at bare" in said
    assert "3 or more are wanted" in said
    assert not any("Too few" in t for t in judged(result_of(trial(wax=UP)), "wax").caveats)


def test_one_reading_a_zone_is_judged_where_both_sides_have_several_zones() -> None:
    single = {
        (zone, stage): (90.0 + k / 10 + (2.0 if (zone[:3], stage) == ("wax", "applied") else 0),)
        for stage in ("bare", "applied")
        for k, zone in enumerate(("control1", "control2", "wax1", "wax2"))
    }
    assert judged(result_of(single), "wax").is_of_zones
    del single["wax2", "applied"], single["wax2", "bare"]
    assert "only one reading" in refused(result_of(single), "wax").reason


CASES = [
    # Alike, and the noisiest cell lost among quiet ones: the shapes in which pooling unless a test
    # contradicts, or Welch's limit by itself, err most.
    Scenario(4, 5),
    Scenario(4, 2, "control", 5.0),
    Scenario(4, 3, "control", 3.0),
    Scenario(4, 5, "all applied", 5.0),
    Scenario(1, 2, "wax applied", 8.0),
    Scenario(1, 3, "wax applied", 5.0),
    Scenario(1, 3, "wax applied", 5.0, sd=0.1, effect=1.0, margin="1.0"),
    Scenario(1, 3, sd=0.5, step=1.0),
    Scenario(1, 3, zones=3, zone_sd=0.5, sd=0.1),
    Scenario(1, 3, zones=2, zone_sd=0.1, sd=0.1),
]


@pytest.mark.parametrize("scenario", CASES, ids=str)
def test_whatever_scatters_at_most_one_trial_in_twenty_decides_wrongly(scenario: Scenario) -> None:
    assert false_rate(scenario, 120) <= 0.05 + allowance(120)


def test_a_change_far_beyond_the_scatter_is_shown_all_the_same() -> None:
    assert false_rate(Scenario(4, 3, effect=5.0), 20) == 1.0
    assert false_rate(Scenario(1, 3, effect=5.0, zones=3, zone_sd=0.1), 20) > 0.9
    assert judged(result_of(trial(wax=BARE)), "wax").decision is Decision.NOT_SHOWN
