"""What one zone beside several costs is told where a trial is planned, and is true of results."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from acquire.analysis.comparison import Comparison
from acquire.analysis.lonezones import (
    SEVERAL_THRICE,
    SEVERAL_TWICE,
    THRICE,
    THRICE_OF_TWO,
    TWICE,
    lone_zone_hints,
)
from acquire.model import Quantity
from tests.unit.analysis_bench import plan_of, result_of
from tests.unit.analysis_zonepools import Unlike, unlike_rates

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


def test_a_plan_with_one_zone_beside_several_is_warned_and_one_without_is_not() -> None:
    plan, measure = plan_of([*_FOUR, "wax0"])
    (hint,) = lone_zone_hints(plan)
    assert "one zone stands for Wax and nothing will tell whether it spreads more" in hint
    assert f"up to {TWICE} in 100" in hint
    assert f"up to {THRICE} where three times; of two zones up to {THRICE_OF_TWO}" in hint
    (hint,) = lone_zone_hints(plan_of([*_FOUR, "wax0", "gel0"])[0])
    assert "one zone stands for each of 2 treatments, such as" in hint
    assert f"({SEVERAL_TWICE} and {SEVERAL_THRICE} where several do so)" in hint
    assert lone_zone_hints(plan_of([*_FOUR, "wax0", "wax1"])[0]) == []
    # Two zones alone tell nothing for others; slides against blanks have a hint of their own.
    assert lone_zone_hints(plan_of(["control0", "control1", "wax0"])[0]) == []
    film = replace(measure, quantity=Quantity.TRANSMITTANCE, unit="percent", stages=("applied",))
    assert lone_zone_hints(replace(plan, measures=(film,))) == []


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
