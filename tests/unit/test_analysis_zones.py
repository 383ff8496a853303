"""Several zones a side: their own spread decides, reckoned by hand."""

from __future__ import annotations

import math

import pytest
from scipy import stats

from acquire.analysis.decision import Decision
from tests.unit.analysis_bench import BARE, Readings, judged, result_of

CONTROL = (0.0, 0.1, -0.2)
WAX = (2.0, 2.6, 1.7)


def of_zones(control: tuple[float, ...], wax: tuple[float, ...]) -> Readings:
    """Zones whose three readings change by exactly so much."""
    changes = {f"control{k}": c for k, c in enumerate(control)}
    changes |= {f"wax{k}": c for k, c in enumerate(wax)}
    return {(z, "bare"): BARE for z in changes} | {
        (z, "applied"): tuple(v + c for v in BARE) for z, c in changes.items()
    }


def test_the_spread_of_the_changes_of_zones_is_the_scatter_of_their_mean() -> None:
    comparison = judged(result_of(of_zones(CONTROL, WAX), resolution=0.0), "wax")
    assert comparison.is_of_zones
    wax, control = comparison.budget.terms[:2]
    assert [t.name for t in (wax, control)] == [
        "spread of the zones of wax",
        "spread of the zones of control",
    ]
    assert wax.u == pytest.approx(float(stats.sem(WAX)))
    assert control.u == pytest.approx(float(stats.sem(CONTROL)))
    assert (wax.nu, control.nu) == (2, 2)
    assert comparison.budget.combined == pytest.approx(math.hypot(wax.u, control.u))
    assert comparison.estimate == pytest.approx(sum(WAX) / 3 - sum(CONTROL) / 3)
    assert "+2.00, +2.60, +1.70 GU" in wax.note


def test_readings_count_through_their_means_only() -> None:
    steady = of_zones(CONTROL, WAX)
    restless = {
        place: tuple(m + e for e in (-3.0, 0.0, 3.0))
        for place, values in steady.items()
        for m in [sum(values) / 3]
    }
    one, other = (judged(result_of(r, resolution=0.0), "wax") for r in (steady, restless))
    assert other.budget.combined == pytest.approx(one.budget.combined)
    assert other.interval == pytest.approx(one.interval)


def test_zones_that_differ_much_show_nothing_however_steady_their_readings() -> None:
    comparison = judged(result_of(of_zones((0.0, 1.0, -1.0), (2.0, 0.2, 3.1))), "wax")
    assert comparison.decision is Decision.NOT_SHOWN
    assert any("comes from how these changes spread" in text for text in comparison.caveats)
    assert "one stands for" not in comparison.sentence


def test_one_zone_on_a_side_leaves_the_readings_and_the_sentence_says_so() -> None:
    comparison = judged(result_of(of_zones((0.0,), WAX)), "wax")
    assert not comparison.is_of_zones
    assert comparison.budget.terms[0].name == "scatter in zone wax0, bare"
    assert comparison.sentence.endswith("This is about the zones read: one stands for the control.")
    assert any("because the other side has one zone" in text for text in comparison.caveats)


def test_two_zones_are_few_and_that_is_said() -> None:
    comparison = judged(result_of(of_zones(CONTROL, WAX[:2])), "wax")
    assert any("Only two zones stand for Wax:" in text for text in comparison.caveats)
    assert not any(
        "Only two" in t for t in judged(result_of(of_zones(CONTROL, WAX)), "wax").caveats
    )


def test_zones_that_change_exactly_alike_may_differ_by_what_their_means_leave_open() -> None:
    """Three readings that scatter by a step tell their mean to a third of it.

    A change of two such means may be off by a sixth of a step twice; half of that is taken, and two
    changes that are equal may be apart by twice it: a standard deviation of the root of 2 times.
    """
    comparison = judged(result_of(of_zones((0.0, 0.0), (1.0, 1.0))), "wax")
    spread = math.sqrt(2) * 2 * 0.1 / 12 / math.sqrt(2)
    display = 0.1 / math.sqrt(12) * math.sqrt(2)
    wax, control = comparison.budget.terms[:2]
    assert (wax.u, control.u) == pytest.approx((spread, spread))
    assert "the largest that the means allow for the step of the display of 0.1 GU" in wax.note
    assert comparison.budget.combined == pytest.approx(math.hypot(spread, spread, display))


def test_still_zones_that_change_alike_may_differ_by_half_a_step_each() -> None:
    """Equal readings, each mean off by a quarter of a step: a change may be off by half a step."""
    still: Readings = {
        (f"{side}{k}", stage): (90.0 if stage == "bare" else 90.0 + change,) * 2
        for side, change in (("control", 0.0), ("wax", 1.0))
        for k in range(2)
        for stage in ("bare", "applied")
    }
    wax = judged(result_of(still), "wax").budget.terms[0]
    assert wax.u == pytest.approx(math.sqrt(2) * 0.05 / math.sqrt(2))
    assert wax.nu == 1
    unknown = judged(result_of(of_zones(CONTROL, WAX), resolution=0.0), "wax").budget.terms[0]
    assert "the largest that" not in unknown.note
