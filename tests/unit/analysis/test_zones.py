"""Several zones a side: their own spread decides, reckoned by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats

from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.treatments.decision import Decision
from tests.unit.analysis.bench import BARE, Readings, judged, refused, result_of
from tests.unit.analysis.zonepools import Case, rates

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
    # Two zones of one treatment have one degree of freedom: they do not tell for others.
    comparison = judged(result_of(of_zones((0.0,), WAX[:2])), "wax")
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


OIL = (0.9, -0.5, 0.1)


def of_three(oil: tuple[float, ...] = OIL) -> Readings:
    """Zones of a control and two products whose readings change by exactly so much."""
    wax = of_zones(CONTROL, WAX)
    changes = {f"oil{k}": c for k, c in enumerate(oil)}
    more = {(z, "bare"): BARE for z in changes} | {
        (z, "applied"): tuple(v + c for v in BARE) for z, c in changes.items()
    }
    stages = ("bare", "applied")
    return {(z, s): v for s in stages for (z, at), v in (*wax.items(), *more.items()) if at == s}


def test_zones_of_three_treatments_tell_together_as_an_analysis_of_variance_has_it() -> None:
    # Second opinion: the residual mean square of statsmodels' one-way model, and Dunnett's limit.
    comparison = judged(result_of(of_three(), resolution=0.0), "wax")
    (line,) = (t for t in comparison.budget.terms if t.contribution > 0)
    changes = np.array([*CONTROL, *WAX, *OIL])
    groups = np.repeat(np.eye(3), 3, axis=0)
    model = sm.OLS(changes, groups).fit()
    assert line.u == pytest.approx(math.sqrt(model.mse_resid))
    assert (line.nu, line.sensitivity) == (6, pytest.approx(math.sqrt(2 / 3)))
    assert comparison.estimate == pytest.approx(model.params[1] - model.params[0])
    dunnett = stats.dunnett(WAX, OIL, control=CONTROL, rng=1)
    reach = float(dunnett.confidence_interval().high[0]) - comparison.estimate
    assert comparison.budget.expanded == pytest.approx(reach, rel=2e-3)  # scipy's is drawn
    assert comparison.p == pytest.approx(float(dunnett.pvalue[0]), abs=1e-3)
    assert "Dunnett's two-sided limits of 2 comparisons with one control" in (
        comparison.budget.coverage_rule
    )
    assert "makes 0.50 of its variance" in comparison.budget.coverage_rule
    assert "of 3 treatments together" in line.note


def test_a_pair_of_treatments_with_several_zones_is_held_to_tukeys_limit() -> None:
    result = result_of(of_three(), resolution=0.0)
    (pair,) = (lead.pair for lead in result.leads)
    # Of two treatments the limit is Student's, by the zones of all three.
    line = pair.evaluation.terms[0]
    t = float(stats.t.ppf(0.975, 6))
    assert pair.half_width == pytest.approx(t * line.contribution)


def test_zones_that_spread_more_than_all_together_are_judged_by_themselves() -> None:
    restless = (3.0, -2.0, 0.5)
    result = result_of(of_three(restless), resolution=0.0)
    own = math.hypot(float(stats.sem(restless)), float(stats.sem(CONTROL)))
    oil, wax = judged(result, "oil"), judged(result, "wax")
    assert oil.budget.combined == pytest.approx(own)
    assert "differ by more than those of all together" in oil.budget.terms[0].note
    pooled = math.sqrt(sum(float(np.var(c, ddof=1)) for c in (CONTROL, WAX, restless)) / 3)
    assert wax.budget.combined == pytest.approx(pooled * math.sqrt(2 / 3))


def test_a_product_that_lost_its_zones_is_no_surer_for_that() -> None:
    whole = of_three()
    lost = {place: v for place, v in whole.items() if place[0] not in ("oil1", "oil2")}
    oil = judged(result_of(lost, resolution=0.0), "oil")
    (line,) = (t for t in oil.budget.terms if t.contribution > 0)
    # What the zones of the two others tell, for one zone and three.
    pooled = math.sqrt((np.var(CONTROL, ddof=1) + np.var(WAX, ddof=1)) / 2)
    assert (line.u, line.nu) == (pytest.approx(pooled), 4)
    assert line.sensitivity == pytest.approx(math.sqrt(1 + 1 / 3))
    assert oil.is_of_zones
    assert oil.sentence.endswith(
        "One zone alone stands for Oil; how zones differ is taken from treatments with several, "
        "and nothing tells whether it spreads more than these."
    )
    # Where others tell with less than two degrees of freedom it is about the zones read.
    alone = {p: v for p, v in lost.items() if p[0] in ("oil0", "control0", "control1")}
    assert "This is about the zones read" in judged(result_of(alone), "oil").sentence


def test_three_zones_of_the_control_tell_for_products_of_one_zone() -> None:
    """Second opinion: a new value against a sample, t (n - 1) at s times the root of 1 + 1/n."""
    lone = of_zones(CONTROL, (1.9,))
    comparison = judged(result_of(lone, resolution=0.0), "wax")
    assert comparison.is_of_zones
    t = float(stats.t.ppf(0.975, 2))
    wanted = t * float(np.std(CONTROL, ddof=1)) * math.sqrt(1 + 1 / 3)
    assert comparison.budget.expanded == pytest.approx(wanted)
    assert "within one treatment" in comparison.budget.terms[0].note


def test_the_readings_of_a_zone_that_stands_alone_decide_where_they_reach_farther() -> None:
    calm = of_zones((0.0, 0.1, -0.1), (2.0,))
    assert judged(result_of(calm), "wax").is_of_zones
    restless = calm | {
        ("wax0", stage): tuple(sum(calm["wax0", stage]) / 3 + off for off in (-3.0, 0.0, 3.0))
        for stage in ("bare", "applied")
    }
    comparison = judged(result_of(restless), "wax")
    assert not comparison.is_of_zones
    assert comparison.budget.terms[0].name == "scatter in zone wax0, bare"
    assert comparison.budget.expanded > 2 * judged(result_of(calm), "wax").budget.expanded


def test_for_a_zone_that_was_read_once_no_zones_tell_that_were_read_more_often() -> None:
    whole = of_zones(CONTROL, (1.9,))
    once = {place: v[:1] if place[0] == "wax0" else v for place, v in whole.items()}
    assert "that of other zones cannot stand in for it" in refused(result_of(once), "wax").reason
    assert judged(result_of({place: v[:1] for place, v in whole.items()}), "wax").is_of_zones


def test_single_zones_that_do_nothing_are_rarely_called_different_from_three_of_the_control() -> (
    None
):
    """By drawing: zones unsteady by more than readings scatter; by readings 68 of 100 err."""
    source = np.random.default_rng(6)
    false = 0
    for _ in range(150):
        drawn = {
            (zone, stage): tuple((80 + source.normal(0, 0.4) + source.normal(0, 0.3, 5)).tolist())
            for zone in ("control0", "control1", "control2", "oil0", "wax0")
            for stage in ("bare", "applied")
        }
        found = result_of(drawn, resolution=0.1).comparisons
        false += any(isinstance(c, Comparison) and c.is_difference_shown for c in found)
    # At most 5 of 100; 150 runs give some chance to a few more.
    assert false <= 13


def test_treatments_that_do_nothing_are_rarely_called_different_however_zones_spread() -> None:
    for spreads, most in (((1.0,) * 4, 0.05), ((1.0, 1.0, 1.0, 2.0), 0.06), ((1.0, 3.0), 0.1)):
        found = rates(Case(2, (1.0, *spreads)), 4_000)
        assert found.results < most
    # What it is for: by their own two zones limits would be many times as wide.
    alike = rates(Case(2, (1.0,) * 6), 4_000)
    assert alike.width_own > 8 * alike.width
