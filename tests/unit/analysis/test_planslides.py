"""What few slides of a box cost is told where a trial is planned, with figures that are true."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from acquire.analysis.plans.planslides import slide_hints, slides_reach
from acquire.model import Plan, Quantity
from tests.unit.analysis.bench import plan_of
from tests.unit.film_bench import films_of

_SD = 0.003


def _slides(
    name: str, level: float, number: int, readings: tuple[float, ...] = (0.0, 1e-7)
) -> dict[tuple[str, str], tuple[float, ...]]:
    """So many slides whose logarithms have the standard deviation `_SD`.

    Each is read twice, almost alike, or at the given steps from its value.
    """
    steps = np.linspace(-1, 1, number) if number > 1 else np.zeros(1)
    logs = steps * (_SD / steps.std(ddof=1)) if number > 1 else steps
    return {
        (f"{name}{i}", "applied"): tuple(level * math.exp(x) + step for step in readings)
        for i, x in enumerate(logs, 1)
    }


@pytest.mark.parametrize(("coated", "blanks"), [(1, 5), (1, 2), (2, 5), (3, 5), (5, 5), (3, 2)])
def test_what_is_said_of_slides_is_what_the_result_has(coated: int, blanks: int) -> None:
    readings = (
        _slides("control", 90, blanks) | _slides("wax", 55, coated) | _slides("oil", 80, coated)
    )
    result = films_of(readings)
    for name in ("wax", "oil"):
        found = result.comparison(name, "applied")
        width = (found.interval[1] - found.interval[0]) / 2  # type: ignore[union-attr]
        assert width == pytest.approx(_SD * slides_reach(coated, blanks, 2), rel=1e-3)


@pytest.mark.parametrize(("blanks", "times"), [(2, 21.7), (5, 3.69)])
def test_of_slides_read_once_the_limit_that_is_told_is_dunnetts_as_in_the_result(
    blanks: int, times: float
) -> None:
    """By scipy's multivariate t law, not by ours: the control makes 1/(n + 1) of each variance."""
    once = (0.0,)
    readings = _slides("control", 90, blanks, once)
    readings |= _slides("wax", 55, 1, once) | _slides("oil", 80, 1, once)
    told = slides_reach(1, blanks, 2, is_one_line=True)
    found = films_of(readings).comparison("wax", "applied")
    assert (found.interval[1] - found.interval[0]) / 2 == pytest.approx(_SD * told, rel=1e-3)  # type: ignore[union-attr]
    assert told == pytest.approx(times, rel=2e-3)
    part = 1 / (blanks + 1)
    law = stats.multivariate_t(shape=[[1, part], [part, 1]], df=blanks - 1, seed=1)
    limit = told / math.sqrt(1 + 1 / blanks)
    within = law.cdf([limit] * 2, lower_limit=[-limit] * 2)
    # The part is rounded down to hundredths, which makes the limit a little wider.
    assert within == pytest.approx(0.95, abs=5e-4)
    with pytest.raises(ValueError, match="one coated slide a film"):
        slides_reach(2, blanks, 2, is_one_line=True)
    plan = _plan(1, blanks)
    (measure,) = plan.measures
    hint, *_ = slide_hints(replace(plan, measures=(replace(measure, replicates=1),)))
    assert f"known to ±{told:.2g} times" in hint
    hint, *_ = slide_hints(plan)
    assert f"known to ±{slides_reach(1, blanks, 2):.2g} times" in hint


def _plan(coated: int, blanks: int, stages: tuple[str, ...] = ("applied",)) -> Plan:
    zones = [f"control{i}" for i in range(1, blanks + 1)]
    zones += [f"{name}{i}" for name in ("wax", "oil") for i in range(1, coated + 1)]
    plan, measure = plan_of(zones, ["bare", "applied"])
    own = replace(measure, quantity=Quantity.TRANSMITTANCE, unit="percent", stages=stages)
    return replace(plan, measures=(own,))


def test_two_coated_slides_are_told_to_cost_several_times_three() -> None:
    (hint,) = slide_hints(_plan(2, 5))
    assert "two coated slides, whose spread is hardly known" in hint
    two, three, five = (slides_reach(n, 5, 2) for n in (2, 3, 5))
    assert two > 4 * three > 4 * five
    assert f"±{two:.2g} times what slides differ by; with 3 slides to ±{three:.2g}" in hint


def test_one_coated_slide_is_told_to_hide_how_the_film_varies() -> None:
    (hint,) = slide_hints(_plan(1, 5))
    assert "says nothing of how the film varies" in hint


def test_few_blanks_are_told() -> None:
    (hint,) = slide_hints(_plan(3, 1))
    assert "nothing will be decided" in hint
    (hint,) = slide_hints(_plan(3, 2))
    assert "two blanks, whose spread is hardly known" in hint


def test_enough_slides_and_slides_that_are_their_own_blanks_need_no_word() -> None:
    assert slide_hints(_plan(3, 5)) == []
    assert slide_hints(_plan(2, 2, ("bare", "applied"))) == []


def test_the_false_films_of_one_slide_that_the_page_names_are_those_of_results() -> None:
    """Drawn by results: 37 in 100 of a film three times as restless as five blanks, by one slide.

    The same by arithmetic: Student's limit at 4 degrees of freedom, of an error with the variance
    3^2 + 1/5 held against 1 + 1/5.
    """
    limit = float(stats.t.ppf(0.975, 4)) * math.sqrt(1.2 / 9.2)
    assert 2 * float(stats.t.sf(limit, 4)) == pytest.approx(0.37, abs=0.01)
    limit = float(stats.t.ppf(0.975, 4)) * math.sqrt(1.2 / 4.2)
    assert 2 * float(stats.t.sf(limit, 4)) == pytest.approx(0.21, abs=0.01)
    rng, runs, false = np.random.default_rng(5), 200, {1: 0, 2: 0}
    for _ in range(runs):
        for number in false:
            levels = {f"control{i}": rng.normal(0, _SD) for i in range(1, 6)}
            levels |= {f"wax{i}": rng.normal(0, 3 * _SD) for i in range(1, number + 1)}
            result = films_of({(z, "applied"): (90 * math.exp(x),) * 2 for z, x in levels.items()})
            false[number] += result.comparison("wax", "applied").is_difference_shown  # type: ignore[union-attr]
    assert false[1] / runs == pytest.approx(0.37, abs=0.1)
    assert false[2] / runs <= 0.06
