"""What a known drift does to decisions, intervals, visible differences, words and advice."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from acquire.analysis.budget.reach import reach_of
from acquire.analysis.budget.uncertainty import Bias, budget, rectangular
from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.comparisons.reordering import WORTH
from acquire.analysis.results import Bracket, MeasureResult, measure_results
from acquire.analysis.treatments.decision import Decision, Finding, decide, worded
from acquire.model import Order
from tests.unit.analysis.bench import has_nan, judged, plan_of, quiet, samples_of, trial
from tests.unit.analysis.drifts import (
    COURSES,
    Scenario,
    allowance,
    shown_rate,
    trial_result,
)

RISING = (91.0, 91.1, 91.2)


def by_zone(drift: float | None, *, margin: str | None = None) -> MeasureResult:
    """Control, then wax, 10 s apart in a bracket of 70 s that drifts at the applied stage."""
    plan, measure = plan_of(["control", "wax"], order=Order.BY_ZONE, margin=margin)
    begun_s = {"bare": 0.0, "applied": 1000.0}
    samples = [
        replace(s, at_s=begun_s[s.stage] + 10 * (s.replicate + (3 if s.zone == "wax" else 0)))
        for s in samples_of(trial(wax=RISING))
    ]
    close_s = 1070.0 if drift is not None else None
    brackets = [quiet("bare", 0), Bracket("applied", 1000, close_s, drift, 0.2, "", 0.0)]
    (result,) = measure_results(plan, measure, samples, brackets, 0.1)
    return result


def test_a_known_shift_widens_by_its_full_size_and_shifts_cancel_by_sign() -> None:
    lines = [rectangular("display", 0.05, "")]
    shifts = [Bias("one", 0.6, -0.5, ""), Bias("other", 0.2, 0.5, "")]
    plain, shifted = budget("d", "", lines), budget("d", "", lines, biases=shifts)
    assert shifted.bias == pytest.approx(-0.2)
    assert shifted.expanded == pytest.approx(plain.expanded + 0.2)
    assert (shifted.combined, shifted.nu) == (plain.combined, plain.nu)


def test_every_reach_of_a_comparison_has_the_shift_in_it() -> None:
    c = judged(by_zone(0.7), "wax")
    b, u, reach = 0.7 * 3 / 7, c.budget.combined, reach_of(c.budget.terms)
    assert c.budget.bias == pytest.approx(b)
    assert c.interval[1] - c.estimate == pytest.approx(c.critical_value * u + b)
    assert c.equality_interval[1] - c.estimate == pytest.approx(reach.half_width(0.1) + b)
    assert c.smallest_visible == pytest.approx(reach.smallest(0.05, 0.8) + 2 * b)
    assert (c.p < 0.05) == c.is_difference_shown


def test_a_change_of_one_zone_and_its_mean_carry_their_own_part_of_the_drift() -> None:
    result = by_zone(0.7)
    level = result.level("control", "applied")
    assert level is not None
    assert level.budget is not None
    # Its three readings lie at 10, 20 and 30 s of 70 s.
    assert level.budget.bias == pytest.approx(0.7 * 2 / 7)
    change = next(c for c in result.changes if c.zone == "wax")
    assert change.budget is not None
    assert change.budget.bias == pytest.approx(0.7 * 5 / 7)


def test_a_difference_that_a_steady_drift_could_have_made_is_not_shown() -> None:
    still, drifted = judged(by_zone(0.0), "wax"), judged(by_zone(1.4), "wax")
    assert still.decision is Decision.BETTER
    assert drifted.decision is Decision.NOT_SHOWN
    assert (
        "A steady drift of the meter, as found by the checks, would alone have made +0.6 GU "
        "between equal zones; the interval is wider by as much."
    ) in drifted.sentence
    assert "steady drift" not in still.sentence


def test_words_say_when_nothing_but_the_drift_stands_against_a_difference() -> None:
    finding = Finding(1.0, 1.2, 1.1, None, 0.5)
    assert decide(finding, higher_is_better=True) is Decision.NOT_SHOWN
    said = worded(Decision.NOT_SHOWN, finding, "Wax", " GU", 2.0)
    assert "wider by as much. That alone keeps it from being called a difference." in said
    assert "keeps it from" not in worded(
        Decision.NOT_SHOWN, finding._replace(estimate=0.6), "Wax", " GU", 2.0
    )


def test_equality_is_not_shown_where_the_drift_may_have_hidden_a_difference() -> None:
    assert judged(by_zone(0.0, margin="1.5"), "wax").decision is Decision.EQUAL
    assert judged(by_zone(1.4, margin="1.5"), "wax").decision is not Decision.EQUAL


def test_no_drift_and_no_closing_check_are_judged_as_ever() -> None:
    still, unclosed = judged(by_zone(0.0), "wax"), judged(by_zone(None), "wax")
    assert still.budget.bias == unclosed.budget.bias == 0
    assert still.budget.combined == pytest.approx(unclosed.budget.combined)
    assert still.interval == pytest.approx(unclosed.interval)
    assert not has_nan(by_zone(None))
    assert any("No closing check after applied" in text for text in unclosed.caveats)


def test_another_order_is_advised_where_the_drift_hides_much() -> None:
    (advice,) = [text for text in by_zone(2.0).advice if "interleaved" in text]
    assert advice.startswith("At applied the drift of the meter hides much: the smallest")
    assert 'order = "interleaved" in the trial file' in advice
    now, then = (float(part.split(" GU")[0].split()[-1]) for part in advice.split("have seen")[1:])
    assert then < WORTH * now
    assert not any("interleaved" in text for text in by_zone(0.0).advice)
    assert not any("interleaved" in text for text in by_zone(None).advice)


def test_the_advice_holds_what_the_other_order_gives() -> None:
    # The same drift, once by zone and once in turn: what is foretold is what is found.
    scenario = Scenario("linear", (-0.9, 0.9), scatter=0.0001)
    found = {
        order: trial_result(replace(scenario, order=order), np.random.default_rng(3))
        for order in (Order.BY_ZONE, Order.INTERLEAVED)
    }
    (c,) = found[Order.INTERLEAVED].comparisons
    assert isinstance(c, Comparison)
    foretold = next(text for text in found[Order.BY_ZONE].advice if "interleaved" in text)
    assert float(foretold.split("would have seen ")[1].split()[0]) == pytest.approx(
        c.smallest_visible, rel=0.1
    )
    assert not any("interleaved" in text for text in found[Order.INTERLEAVED].advice)


@pytest.mark.parametrize(
    ("order", "treatments", "replicates", "drifts", "runs"),
    [
        (Order.BY_ZONE, 1, 5, (-0.3, 0.3), 100),
        (Order.BY_ZONE, 1, 3, (-0.9, 0.9), 100),
        (Order.BY_ZONE, 4, 4, (-0.9, 0.9), 40),
        (Order.INTERLEAVED, 1, 5, (-0.9, 0.9), 100),
        (Order.INTERLEAVED, 3, 3, (0.9, -0.9), 40),
    ],
)
def test_a_steady_drift_inside_the_limits_makes_no_more_than_one_false_decision_in_twenty(
    order: Order, treatments: int, replicates: int, drifts: tuple[float, float], runs: int
) -> None:
    scenario = Scenario("linear", drifts, order, treatments, replicates)
    assert shown_rate(scenario, runs) <= 0.05 + allowance(runs)


@pytest.mark.parametrize("course", COURSES)
def test_nor_does_a_drift_of_another_course(course: str) -> None:
    scenario = Scenario(course, (0.9, 0.9), filled=0.3)
    assert shown_rate(scenario, 100) <= 0.05 + allowance(100)


def test_a_true_difference_of_the_visible_size_is_shown_also_against_the_drift() -> None:
    drifts, draw = (-0.3, 0.3), np.random.default_rng(2)
    (c,) = trial_result(Scenario("linear", drifts), draw).comparisons
    assert isinstance(c, Comparison)
    against = Scenario("linear", drifts, effect=-1.1 * c.smallest_visible)
    assert shown_rate(against, 100) >= 0.8
