"""Too little data, or none: a reason and a next step, never a figure out of nothing."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from acquire.analysis.cells.onesided import Beyond
from acquire.analysis.comparisons.comparison import Refusal
from acquire.analysis.results import Sample, measure_results
from acquire.analysis.treatments.decision import Decision
from acquire.model import Quantity
from tests.unit.analysis.bench import (
    BARE,
    UP,
    has_nan,
    judged,
    plan_of,
    quiet,
    refused,
    result_of,
    samples_of,
    trial,
)


def test_a_missing_stage_is_refused_with_the_next_step() -> None:
    readings = dict(trial(wax=UP, seal=UP))
    readings["seal", "bare"] = ()
    result = result_of(readings)
    refusal = refused(result, "seal")
    assert refusal.decision is Decision.REFUSED
    assert refusal.reason == "zone seal of Seal has no reading that counts at bare"
    assert refusal.next_step == "read zone seal at bare and look again"
    assert judged(result, "wax").family == 1


def test_a_missing_control_refuses_every_treatment() -> None:
    readings = dict(trial(wax=UP, seal=UP))
    readings["control", "applied"] = ()
    for refusal in result_of(readings).comparisons:
        assert isinstance(refusal, Refusal)
        assert "zone control of the control has no reading that counts at applied" in refusal.reason


def test_a_plan_without_a_control_refuses_and_does_not_fail() -> None:
    plan, measure = plan_of(["wax"])
    readings = {("wax", "bare"): BARE, ("wax", "applied"): UP}
    (result,) = measure_results(plan, measure, samples_of(readings), [], 0.1)
    assert refused(result, "wax").reason == "no zone carries the control"


def test_a_treatment_on_no_zone_is_refused() -> None:
    plan, measure = plan_of(["control", "wax"])
    plan = replace(plan, zones=plan.zones[:1])
    (result,) = measure_results(plan, measure, samples_of(trial(wax=UP)), [], 0.1)
    assert refused(result, "wax").reason == "no zone carries Wax"


def test_one_reading_a_zone_is_too_little_to_judge() -> None:
    result = result_of(
        {("control", "bare"): (90.0,), ("wax", "bare"): (90.0,)}
        | {("control", "applied"): (90.0,), ("wax", "applied"): (92.0,)}
    )
    refusal = refused(result, "wax")
    assert "only one reading of zone wax at bare, zone wax at applied, zone co" in refusal.reason
    assert refusal.next_step == "read each zone at least 3 times at each stage"
    change = next(c for c in result.changes if c.zone == "wax")
    assert (change.estimate, change.budget) == (2.0, None)
    assert (
        "no uncertainty, because there is only one reading of zone wax at bare" in change.sentence
    )


def test_equal_readings_are_judged_by_the_display_step_and_say_so() -> None:
    flat = {k: (v[0],) * 3 for k, v in trial(wax=UP).items()}
    result = result_of(flat)
    comparison = judged(result, "wax")
    assert comparison.budget.combined == pytest.approx(2 * 0.1 / math.sqrt(12))
    assert comparison.decision is Decision.BETTER
    assert any("agree to the last digit" in text for text in comparison.caveats)
    assert math.isinf(comparison.budget.nu)


def test_equal_readings_one_step_apart_show_no_difference() -> None:
    readings = {k: (90.0,) * 3 for k in trial(wax=UP)}
    readings["wax", "applied"] = (90.1,) * 3
    assert judged(result_of(readings), "wax").decision is Decision.NOT_SHOWN


def test_equal_readings_of_unknown_step_are_refused() -> None:
    flat = {k: (v[0],) * 3 for k, v in trial(wax=UP).items()}
    found = refused(result_of(flat, resolution=0), "wax")
    assert "no step of the display is known" in found.reason
    # More readings would agree as well.
    assert found.next_step == "say the step of the display (resolution) in the check policy"


def test_a_zone_that_was_not_read_is_left_out_and_named() -> None:
    readings = dict(trial(wax1=UP, wax2=()))
    comparison = judged(result_of(readings), "wax")
    assert comparison.zones == ("wax1",)
    said = "Zone wax2 of Wax is left out: it has no reading that counts at applied."
    assert said in comparison.caveats


def test_a_measure_that_is_not_planned_for_bare_has_no_change_to_judge() -> None:
    plan, measure = plan_of(["control", "wax"])
    later = replace(measure, stages=("applied",))
    (result,) = measure_results(plan, later, samples_of(trial(wax=UP)), [], 0.1)
    assert (result.comparisons, result.changes, result.leads) == ((), (), ())


def test_nothing_read_is_a_result_without_figures() -> None:
    plan, measure = plan_of(["control", "wax"])
    (result,) = measure_results(plan, measure, [], [], 0.1)
    assert len(result.levels) == 4
    assert all(level.budget is None for level in result.levels)
    assert result.levels[0].sentence == "Zone control, bare: no reading counts."
    assert "no reading counts at bare and applied" in result.changes[0].sentence
    assert not has_nan(result)


def test_readings_of_other_zones_and_stages_are_not_taken() -> None:
    plan, measure = plan_of(["control", "wax"])
    strangers = samples_of({("tar", "bare"): BARE, ("wax", "later"): BARE})
    with_them, without = (
        measure_results(plan, measure, samples_of(trial(wax=UP)) + extra, [], 0.1)
        for extra in (strangers, [])
    )
    assert with_them == without


def test_a_value_that_is_none_cannot_come_in() -> None:
    for value in (math.nan, math.inf):
        with pytest.raises(ValueError, match="finite value"):
            Sample("wax", "wax", "bare", 1, "60", value, 0.0, 1)


def test_a_negative_display_step_is_refused() -> None:
    plan, measure = plan_of(["control", "wax"])
    with pytest.raises(ValueError, match="step of the display"):
        measure_results(plan, measure, [], [], -0.1)


def test_nobody_is_sent_to_read_what_was_given_up() -> None:
    readings = {place: v for place, v in trial(wax=UP).items() if place != ("wax", "bare")}
    plan, measure = plan_of(["control", "wax"])
    results = measure_results(
        plan, measure, samples_of(readings), [], 0.1, given_up=[("wax", "bare")]
    )
    (found,) = results[0].comparisons
    assert isinstance(found, Refusal)
    assert "has no reading that counts at bare" in found.reason
    assert found.next_step.startswith("none, since it was given up")


def test_zones_inside_the_range_do_not_stand_for_one_that_lies_out_of_it() -> None:
    """A zone without any value is left out of a mean, but not one that lay out of range."""
    readings = {
        place: values
        for k in (1, 2, 3)
        for place, values in {
            (f"control{k}", "bare"): BARE,
            (f"control{k}", "applied"): BARE,
            (f"wax{k}", "bare"): BARE,
            (f"wax{k}", "applied"): tuple(v + 0.1 * k for v in UP),
            (f"seal{k}", "bare"): BARE,
            (f"seal{k}", "applied"): tuple(v + 0.1 * k for v in UP),
        }.items()
        if place != ("wax3", "applied")
    }
    plan, measure = plan_of([f"{t}{k}" for t in ("control", "wax", "seal") for k in (1, 2, 3)])
    (plain,) = measure_results(plan, measure, samples_of(readings), [], 0.1)
    assert judged(plain, "wax").zones == ("wax1", "wax2")
    beyond = {"60": {("wax3", "applied"): Beyond(above=3)}}
    (result,) = measure_results(plan, measure, samples_of(readings), [], 0.1, one_sided=beyond)
    found = refused(result, "wax")
    assert found.reason == (
        "at zone wax3, applied, 3 presses were above the meter's range: the mean of what counts "
        "there is one-sided"
    )
    assert found.next_step.startswith("read it with a meter whose range holds it")
    # The others are judged as ever, and no pair has it.
    assert judged(result, "seal").zones == ("seal1", "seal2", "seal3")
    assert result.leads == ()
    assert not has_nan(result)


def test_presses_out_of_range_at_another_angle_refuse_nothing() -> None:
    plan, measure = plan_of(["control", "wax"])
    beyond = {"20": {("wax", "applied"): Beyond(above=1)}}
    samples = samples_of(trial(wax=UP))
    (result,) = measure_results(plan, measure, samples, [], 0.1, one_sided=beyond)
    assert judged(result, "wax").decision is Decision.BETTER


def test_of_slides_of_which_one_lay_out_of_range_no_film_is_told() -> None:
    plan, measure = plan_of(["control", "wax"], channels=("315-400",))
    measure = replace(measure, quantity=Quantity.TRANSMITTANCE, unit="percent")
    samples = samples_of(
        {("control", s): (90.0, 90.1, 90.2) for s in ("bare", "applied")}
        | {("wax", "bare"): (90.0, 90.1, 90.2), ("wax", "applied"): (55.2, 55.3, 55.4)},
        "315-400",
    )
    brackets = [replace(quiet(s, t), certified=100.0) for s, t in (("bare", 0), ("applied", 1000))]
    (plain,) = measure_results(plan, measure, samples, brackets, 0.1)
    assert judged(plain, "wax").film is not None
    beyond = {"315-400": {("wax", "applied"): Beyond(below=2)}}
    (result,) = measure_results(plan, measure, samples, brackets, 0.1, one_sided=beyond)
    assert "2 presses were below the meter's range" in refused(result, "wax").reason


def test_zones_that_the_range_cuts_off_do_not_tell_how_zones_of_others_differ() -> None:
    """They are too much alike: with them the limit of the wax would be a third of what it is."""
    readings = {}
    for treatment, applied in (
        ("control", (90.0, 92.4)), ("wax", (91.0, 93.1)),
        ("oil", (99.8, 99.9)), ("gel", (99.7, 99.9)),
    ):  # fmt: skip
        for number, value in enumerate(applied, start=1):
            readings[f"{treatment}{number}", "bare"] = (90.0, 90.1, 90.0)
            readings[f"{treatment}{number}", "applied"] = (value, value, value + 0.1)
    beyond = {("oil1", "applied"): Beyond(above=3), ("gel2", "applied"): Beyond(above=2)}
    plan, measure = plan_of(list(dict.fromkeys(zone for zone, _ in readings)))
    brackets = [quiet(stage, 1000.0 * i) for i, stage in enumerate(("bare", "applied"))]

    def half_width(one_sided: dict[tuple[str, str], Beyond]) -> float:
        (result,) = measure_results(
            plan, measure, samples_of(readings), brackets, 0.1, one_sided={"60": one_sided}
        )
        return judged(result, "wax").budget.expanded

    assert half_width(beyond) > 1.5 * half_width({})
    gone = {k: v for k, v in readings.items() if k[0].rstrip("12") not in ("oil", "gel")}
    assert half_width(beyond) == pytest.approx(judged(result_of(gone), "wax").budget.expanded)
