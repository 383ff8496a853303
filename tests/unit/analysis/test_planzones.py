"""How many zones and readings a plan needs, held against trials that are drawn."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import nct, norm, t

from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.laws.dunnett import critical
from acquire.analysis.laws.limitlaw import Line, limit_law
from acquire.analysis.plans.planning import net_change_seen
from acquire.analysis.plans.planzones import MOST_ZONES, proposal, zones_seen
from acquire.analysis.results import measure_results
from acquire.analysis.treatments.ownspread import own_nu
from acquire.model import Treatment, Zone
from acquire.study.pasttrials import Reading, scatter_of
from tests.unit.analysis.bench import plan_of, quiet, samples_of


def test_the_change_that_is_foretold_is_shown_in_eight_of_ten_drawn_trials() -> None:
    sd, zone_sd, readings, zones, runs = 0.3, 0.2, 4, 4, 20_000
    seen = zones_seen(sd, zone_sd, readings, zones, 1)
    assert seen is not None
    chance = np.random.default_rng(5)
    each = math.sqrt(zone_sd**2 + 2 * sd**2 / readings)
    treated = chance.normal(seen, each, (runs, zones))
    control = chance.normal(0.0, each, (runs, zones))
    u = [np.std(side, axis=1, ddof=1) / math.sqrt(zones) for side in (treated, control)]
    z = norm.ppf(0.975)
    # The limit of acquire.analysis.budget.reach, written anew.
    worse = np.maximum(*u) ** 2 * (t.ppf(0.975, zones - 1) ** 2 - z**2)
    limit = np.sqrt(z**2 * (u[0] ** 2 + u[1] ** 2) + worse)
    shown = np.mean(treated.mean(axis=1) - control.mean(axis=1) > limit)
    assert shown == pytest.approx(0.8, abs=0.05)


@pytest.mark.parametrize(("products", "zones"), [(2, 2), (3, 3), (5, 4)])
def test_where_zones_of_all_tell_together_the_foretold_change_is_shown_as_often(
    products: int, zones: int
) -> None:
    # The rule of acquire.analysis.specimens.zones, written anew: the spread of all, or of two if
    # larger.
    seen = zones_seen(0.0, 1.0, 5, zones, products)
    assert seen is not None
    drawn = np.random.default_rng(2).normal(size=(20_000, products + 1, zones))
    drawn[:, 1] += seen
    variances = drawn.var(axis=2, ddof=1)
    u = np.sqrt(2 * np.maximum(variances.mean(axis=1), variances[:, :2].mean(axis=1)) / zones)
    limit = critical((math.sqrt(0.5),) * products, (products + 1) * (zones - 1)) * u
    shown = np.mean(abs(drawn[:, 1].mean(axis=1) - drawn[:, 0].mean(axis=1)) > limit)
    assert shown == pytest.approx(0.8, abs=0.015)


@pytest.mark.parametrize(("products", "blocks"), [(2, 3), (5, 2)])
def test_within_blocks_of_several_treatments_it_is_shown_as_often(
    products: int, blocks: int
) -> None:
    # The rule of acquire.analysis.specimens.blocks, written anew: the residual, or the pair's own
    # if larger.
    seen = zones_seen(0.0, 1.0, 5, blocks, products, is_paired=True)
    assert seen is not None
    drawn = np.random.default_rng(2).normal(size=(20_000, products + 1, blocks))
    drawn[:, 1] += seen
    left = drawn - drawn.mean(axis=2, keepdims=True) - drawn.mean(axis=1, keepdims=True)
    nu = products * (blocks - 1)
    residual = np.sum((left + drawn.mean(axis=(1, 2), keepdims=True)) ** 2, axis=(1, 2)) / nu
    apart = drawn[:, 1] - drawn[:, 0]
    u = np.sqrt(np.maximum(2 * residual, apart.var(axis=1, ddof=1)) / blocks)
    shown = np.mean(abs(apart.mean(axis=1)) > critical((math.sqrt(0.5),) * products, nu) * u)
    assert shown == pytest.approx(0.8, abs=0.015)


@pytest.mark.parametrize(("own", "shares"), [(0.0, (0.9, 0.1)), (4.0, (1.0, 1e-9))])
def test_a_larger_own_spread_is_reckoned_alike_with_one_estimated_line_and_with_several(
    own: float, shares: tuple[float, float]
) -> None:
    one = limit_law(4.0, [Line(8, shares[0], 1.0, own), Line(np.inf, shares[1], 0.0)])
    two = limit_law(4.0, [Line(8, shares[0], 1.0, own), Line(1e5, shares[1], 0.0)])
    assert two.smallest(0.8) == pytest.approx(one.smallest(0.8), rel=0.005)


def test_sides_with_unlike_numbers_of_zones_have_effective_degrees_of_freedom() -> None:
    assert own_nu([3, 3]) == pytest.approx(4.0)
    assert own_nu([5]) == pytest.approx(4.0)
    # By hand: (1/2 + 1/4)^2 / (1/4 + 1/48) = 0.5625 / 0.270833.
    assert own_nu([2, 4]) == pytest.approx(2.076923)
    assert own_nu([1, 4]) == 0.0


def test_results_say_of_a_pooled_line_what_a_plan_foretells_with_the_same_spread() -> None:
    # Changes of -1, 0 and 1 in every treatment: a standard deviation of 1, and no other line.
    plan, measure = plan_of([f"{t}{n}" for t in ("control", "wax", "seal") for n in (1, 2, 3)])
    readings = {}
    for zone in plan.zones:
        step = float(zone.id[-1]) - 2
        readings[zone.id, "bare"] = (60.0, 60.1, 59.9)
        readings[zone.id, "applied"] = tuple(v + step for v in (60.0, 60.1, 59.9))
    around = [replace(quiet(s, 1000.0 * i), tile_u=0.0) for i, s in enumerate(("bare", "applied"))]
    (result,) = measure_results(plan, measure, samples_of(readings), around, 1e-9)
    found = result.comparison("wax", "applied")
    assert isinstance(found, Comparison)
    assert found.smallest_visible == pytest.approx(zones_seen(0.0, 1.0, 3, 3, 2), rel=1e-6)


def test_one_zone_a_side_is_planned_by_its_readings_alone() -> None:
    assert zones_seen(0.2, 9.9, 5, 1, 3) == net_change_seen(0.2, 5, treatments=3)
    assert zones_seen(0.2, 9.9, 1, 1, 3) is None
    assert zones_seen(0.0, 0.0, 5, 3, 3) == 0.0
    with pytest.raises(ValueError, match="one of each"):
        zones_seen(0.2, 0.2, 5, 0, 1)


def test_what_is_proposed_shows_the_wanted_change_and_less_work_would_not() -> None:
    found = proposal(0.2, 0.2, 1.0, 5)
    assert found.is_enough
    assert found.seen is not None
    assert found.seen <= 1.0
    fewer = zones_seen(0.2, 0.2, 20, found.zones - 1, 5)
    assert fewer is None or fewer > 1.0 or found.readings < 20
    # With the zones given it is a matter of readings.
    given = proposal(0.2, 0.2, 1.0, 5, zones=6)
    assert (given.zones, given.is_enough) == (6, True)


def test_a_difference_that_no_sensible_plan_shows_is_said_to_be_so() -> None:
    found = proposal(1.0, 1.0, 0.1, 5)
    assert found.is_enough is False
    assert found.zones < MOST_ZONES
    assert proposal(0.2, 0.2, None, 5)[:2] == (3, 5)


def test_the_last_trials_say_how_readings_and_zones_scattered() -> None:
    plan, measure = plan_of(["control", "wax"])
    treatments = (Treatment("control", "control", True), Treatment("wax", "wax"))
    zones = tuple(Zone(f"{t.id}{k}", t.id) for t in treatments for k in range(3))
    bare, after = measure.stages[0], measure.stages[-1]
    readings = []
    for k, zone in enumerate(zones):
        for stage, level in ((bare, 80.0), (after, 85.0 + k % 3)):
            # Around each level by -0.1, 0, 0.1: a standard deviation of 0.1.
            readings += [
                Reading(plan.id, measure.id, zone.id, stage, level + step)
                for step in (-0.1, 0.0, 0.1)
            ]

    found = scatter_of([replace(plan, treatments=treatments, zones=zones)], readings)
    assert found.trials == (plan.id,)
    assert found.readings is not None
    assert found.readings == (pytest.approx(0.1), 24)
    # Changes of 5, 6 and 7 on both sides: 1, less what means of three readings explain. Four
    # degrees of freedom are too few to plan with.
    assert found.zones is None
    more = tuple(Zone(f"{t.id}{k}", t.id) for t in treatments for k in range(6))
    readings += [r._replace(zone=f"{r.zone[:-1]}{int(r.zone[-1]) + 3}") for r in readings]
    found = scatter_of([replace(plan, treatments=treatments, zones=more)], readings)
    assert found.zones is not None
    assert found.zones.nu == 10
    # Twice 5, 6, 7: variance 4/5.
    assert found.zones.sd == pytest.approx(math.sqrt(0.8 - 2 * 0.01 / 3))


@pytest.mark.parametrize("zone_sd", [0.0, 0.1, 0.4])
def test_what_zones_hardly_differ_by_more_than_holds_in_nineteen_of_twenty_drawn_trials(
    zone_sd: float,
) -> None:
    draw = np.random.default_rng(12)
    plan, measure = plan_of([f"{t}{n}" for t in ("control", "wax", "seal") for n in range(3)])
    held, found_sd = 0, []
    for _ in range(400):
        readings = []
        for zone in plan.zones:
            for stage, level in (("bare", 60.0), ("applied", 60.0 + draw.normal(0, zone_sd))):
                readings += [
                    Reading(plan.id, measure.id, zone.id, stage, level + off)
                    for off in draw.normal(0, 0.2, 5)
                ]
        found = scatter_of([plan], readings)
        assert found.zones is not None
        assert found.zones_most is not None
        held += zone_sd <= found.zones_most
        found_sd.append(found.zones.sd)
    assert held >= 0.93 * 400  # 0.95 less two standard errors; and all where there is none
    # The variance has no bias but where nothing may be left of it, and there it is small.
    assert math.sqrt(np.mean(np.square(found_sd))) == pytest.approx(zone_sd, rel=0.1, abs=0.065)


def test_what_zones_differ_by_is_taken_off_all_of_them_together() -> None:
    # Changes of the control's two zones differ by 1, variance 0.5, of the five others' by 0.1,
    # variance 0.005. Readings have 0.25, and so have changes of means of two: the control's zones
    # alone would leave 0.25, all together (0.5 + 5 * 0.005) / 6 = 0.0875 leave nothing.
    steps = {"control": 1.0} | {f"p{k}": 0.1 for k in "abcde"}
    plan, measure = plan_of([f"{t}{n}" for t in steps for n in (1, 2)])
    readings = []
    for zone in plan.zones:
        step = steps[zone.treatment] * (zone.id[-1] == "2")
        for stage, level in (("bare", 60.0), ("applied", 60.0 + step)):
            readings += [
                Reading(plan.id, measure.id, zone.id, stage, level + off)
                for off in (-0.5 / math.sqrt(2), 0.5 / math.sqrt(2))
            ]
    found = scatter_of([plan], readings)
    assert found.zones == (0.0, 6)
    # 6 degrees of freedom: chi-squared 1.635 at 5 % (tables, from memory); 0.525 / 1.635 - 0.25.
    assert found.zones_most == pytest.approx(math.sqrt(0.525 / 1.6354 - 0.25), rel=1e-3)


def test_without_past_trials_nothing_is_known() -> None:
    assert scatter_of([], []) == (None, None, (), None)


def test_within_blocks_a_plan_sees_what_the_paired_t_test_does() -> None:
    for zones in (2, 4, 8):
        seen = zones_seen(0.3, 0.4, 5, zones, 1, is_paired=True)
        assert seen is not None
        u = math.sqrt(2 * (0.4**2 + 2 * 0.3**2 / 5) / zones)
        limit = t.ppf(0.975, zones - 1)
        law = nct(zones - 1, seen / u)
        assert law.sf(limit) + law.cdf(-limit) == pytest.approx(0.8, abs=1e-3)
