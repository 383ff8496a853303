"""How many zones and readings a plan needs, held against trials that are drawn."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import nct, norm, t

from acquire.analysis.planning import net_change_seen
from acquire.analysis.planzones import MOST_ZONES, proposal, zones_seen
from acquire.model import Treatment, Zone
from acquire.study.pasttrials import Reading, scatter_of
from tests.unit.analysis_bench import plan_of


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
    # The limit of acquire.analysis.reach, written anew.
    worse = np.maximum(*u) ** 2 * (t.ppf(0.975, zones - 1) ** 2 - z**2)
    limit = np.sqrt(z**2 * (u[0] ** 2 + u[1] ** 2) + worse)
    shown = np.mean(treated.mean(axis=1) - control.mean(axis=1) > limit)
    assert shown == pytest.approx(0.8, abs=0.05)


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


def test_without_past_trials_nothing_is_known() -> None:
    assert scatter_of([], []) == (None, None, ())


def test_within_blocks_a_plan_sees_what_the_paired_t_test_does() -> None:
    for zones in (2, 4, 8):
        seen = zones_seen(0.3, 0.4, 5, zones, 1, is_paired=True)
        assert seen is not None
        u = math.sqrt(2 * (0.4**2 + 2 * 0.3**2 / 5) / zones)
        limit = t.ppf(0.975, zones - 1)
        law = nct(zones - 1, seen / u)
        assert law.sf(limit) + law.cdf(-limit) == pytest.approx(0.8, abs=1e-3)
