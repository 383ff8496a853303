"""What one zone beside several costs is told where a trial is planned, and is true of results."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.rules.lonedraws import Unlike, unlike_rates
from acquire.analysis.rules.lonezones import (
    SEVERAL_THRICE,
    SEVERAL_TWICE,
    THRICE,
    TWICE,
    lone_zone_hints,
)
from acquire.model import Quantity
from tests.unit.analysis.bench import plan_of, result_of

THRICE_OF_TWO = 22
"""What the rules of results say of a treatment with two zones that spreads three times as much."""
_FOUR = [f"{name}{n}" for name in ("control", "oil") for n in range(4)]


def of(few: int, n: int, k: int, spread: float, *, is_control: bool) -> Unlike:
    """A product, or the control, with few zones that spread so much beside n of each other."""
    if is_control:
        return Unlike((few, *(n,) * k), (spread, *(1.0,) * k))
    return Unlike((n, *(n,) * (k - 1), few), (*(1.0,) * k, spread))


@pytest.mark.parametrize(
    ("few", "spread", "most"), [(1, 2.0, TWICE), (1, 3.0, THRICE), (2, 3.0, THRICE_OF_TWO)]
)
def test_no_design_errs_more_often_than_is_said_and_one_nearly_as_often(
    few: int, spread: float, most: int
) -> None:
    worst = 0.0
    for n, k, is_control in ((10, 12, True), (10, 5, True), (10, 2, False), (4, 3, False)):
        worst = max(worst, *unlike_rates(of(few, n, k, spread, is_control=is_control), 10_000))
    # 10,000 runs leave 0.5 in 100 open.
    assert most - 2 < 100 * worst < most + 1.5


def test_a_zone_alone_errs_as_seldom_as_others_where_all_spread_alike() -> None:
    for is_control in (True, False):
        assert max(unlike_rates(of(1, 4, 3, 1.0, is_control=is_control), 10_000)) < 0.06
    of_four = [unlike_rates(of(1, 4, 3, 3.0, is_control=c), 10_000) for c in (False, True)]
    assert of_four[0] == pytest.approx((0.34, 0.38), abs=0.02)
    assert of_four[1][0] == pytest.approx(0.43, abs=0.02)


@pytest.mark.parametrize(("spread", "most"), [(2.0, SEVERAL_TWICE), (3.0, SEVERAL_THRICE)])
def test_several_zones_alone_that_all_spread_more_err_as_often_as_is_said(
    spread: float, most: int
) -> None:
    every = unlike_rates(Unlike((10, *(1,) * 12), (1.0, *(spread,) * 12)), 10_000)
    assert max(every) == pytest.approx(most / 100, abs=0.02)
    some = unlike_rates(Unlike((10, 1, 1, 10), (1.0, spread, spread, 1.0)), 10_000)
    assert max(some) < most / 100


def test_one_product_of_one_zone_errs_as_students_law_has_it() -> None:
    """By arithmetic: an error of the variance 3^2 + 1/n held against 1 + 1/n at n - 1 degrees."""
    n = 5
    limit = float(stats.t.ppf(0.975, n - 1)) * np.sqrt((1 + 1 / n) / (9 + 1 / n))
    found, _ = unlike_rates(of(1, n, 1, 3.0, is_control=False), 20_000)
    assert found == pytest.approx(2 * float(stats.t.sf(limit, n - 1)), abs=0.012)


def test_results_err_as_drawn_where_one_zone_spreads_three_times_as_much() -> None:
    source = np.random.default_rng(3)
    false, runs = 0, 120
    for _ in range(runs):
        drawn = {}
        for zone in (*_FOUR, "wax0"):
            level, change = 80 + source.normal(0, 1), source.normal(0, 3 if zone == "wax0" else 1)
            for stage, at in (("bare", level), ("applied", level + change)):
                drawn[zone, stage] = tuple((at + source.normal(0, 0.1, 3)).tolist())
        found = result_of(drawn, resolution=0.0).comparisons
        false += any(isinstance(c, Comparison) and c.is_difference_shown for c in found)
    wanted, _ = unlike_rates(Unlike((4, 4, 1), (1.0, 1.0, 3.0)), 20_000)
    assert false / runs == pytest.approx(wanted, abs=0.13)


def test_zones_that_tell_for_others_are_not_passed_over_for_the_limit_of_two_readings() -> None:
    """By the limit of two readings a cell an interval was three times as wide as with one."""
    lone = [*(f"control{n}" for n in range(3)), "wax0", "oil0", "gel0"]
    halves = {}
    for n in (1, 2, 5):
        source = np.random.default_rng(5)
        found = []
        for _ in range(25):
            drawn = {}
            for zone in lone:
                for stage, at in (("bare", 80.0), ("applied", 80 + source.normal(0, 0.1))):
                    drawn[zone, stage] = (at + source.normal(0, 0.15, n)).round(1).tolist()
            judged = result_of(drawn, resolution=0.1).comparisons
            found += [c.interval[1] - c.estimate for c in judged if isinstance(c, Comparison)]
        halves[n] = float(np.median(found))
    assert halves[2] < 1.5 * halves[1]
    assert halves[5] < 0.8 * halves[1]


def test_a_plan_with_one_zone_beside_several_is_warned_and_one_without_is_not() -> None:
    plan, measure = plan_of([*_FOUR, "wax0"])
    (hint,) = lone_zone_hints(plan)
    assert "one zone stands for Wax and nothing will tell whether it spreads more" in hint
    (hint,) = lone_zone_hints(plan_of([*_FOUR, "wax0", "gel0"])[0])
    assert "one zone stands for each of 2 treatments, such as Gel" in hint
    assert lone_zone_hints(plan_of([*_FOUR, "wax0", "wax1"])[0]) == []
    # Two zones alone tell nothing for others; slides against blanks have a hint of their own.
    assert lone_zone_hints(plan_of(["control0", "control1", "wax0"])[0]) == []
    film = replace(measure, quantity=Quantity.TRANSMITTANCE, unit="percent", stages=("applied",))
    assert lone_zone_hints(replace(plan, measures=(film,))) == []


@pytest.mark.parametrize(
    ("zones", "who"),
    [
        ([*_FOUR, "wax0"], 2),
        ([*_FOUR, *(f"gel{n}" for n in range(4)), "wax0"], 3),
        (["control0", *_FOUR[4:], *(f"gel{n}" for n in range(4))], 0),
    ],
)
def test_the_figures_of_a_hint_are_those_of_its_own_zones(zones: list[str], who: int) -> None:
    plan, _ = plan_of(zones)
    names = [t.id for t in plan.treatments]
    counts = [sum(zone.treatment == name for zone in plan.zones) for name in names]
    (hint,) = lone_zone_hints(plan)
    told = [int(n) for n in re.findall(r"\d+", hint.split("about")[1])]
    for figure, spread, few in zip(told, (2.0, 3.0, 3.0), (1, 1, 2), strict=True):
        here = tuple(few if k == who else n for k, n in enumerate(counts))
        spreads = tuple(spread if k == who else 1.0 for k in range(len(counts)))
        wanted = max(unlike_rates(Unlike(here, spreads), 40_000, seed=5))
        # The 10,000 trials of a figure leave 0.5 in 100 open, and the 40,000 half of it.
        assert figure == pytest.approx(100 * wanted, abs=2)
    assert told[1] < THRICE


def test_where_several_have_one_zone_the_hint_says_what_is_if_all_of_them_spread_more() -> None:
    (hint,) = lone_zone_hints(plan_of([*_FOUR, "wax0", "gel0"])[0])
    told = [int(n) for n in re.findall(r"\d+", hint.split("about")[1])]
    for figure, spreads in zip(told, ((1, 2), (2, 2), (1, 3), (3, 3)), strict=False):
        wanted = max(unlike_rates(Unlike((4, 4, 1, 1), (1.0, 1.0, *spreads)), 40_000, seed=5))
        assert figure == pytest.approx(100 * wanted, abs=2)


@pytest.mark.parametrize("missing", ["bare", "applied"])
def test_a_zone_that_lacks_a_stage_counts_for_none_in_what_the_page_says(missing: str) -> None:
    drawn = {
        (zone, stage): (80.0, 80.2, 80.1)
        for zone in (*_FOUR, "wax0", "wax1")
        for stage in ("bare", "applied")
        if (zone, stage) != ("wax1", missing)
    }
    rules = " ".join(result_of(drawn, resolution=0.1).rules)
    assert "Of one zone nothing tells whether its treatment spreads more" in rules
    whole = drawn | {("wax1", missing): (80.0, 80.2, 80.1)}
    rules = " ".join(result_of(whole, resolution=0.1).rules)
    assert "Of one zone nothing tells" not in rules
