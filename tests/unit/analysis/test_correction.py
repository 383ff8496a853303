"""Results with the drift between the checks taken off: values, doubt, and what is left out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from acquire.analysis.budget.reach import reach_of
from acquire.analysis.budget.uncertainty import Combined, Distribution
from acquire.analysis.checks.bracket import Bracket
from acquire.analysis.checks.meterscale import Beside
from acquire.analysis.comparisons.comparison import Comparison, Refusal
from acquire.analysis.correction import CorrectedMeasure, corrected_measure
from acquire.analysis.results import MeasureResult, Sample, measure_results
from acquire.model import DriftCorrection, Order
from tests.unit.analysis.bench import judged, plan_of
from tests.unit.analysis.drifts import Scenario, allowance, shown_rate, trial_result

OFFSET, GAIN, NONE = DriftCorrection.OFFSET, DriftCorrection.GAIN, DriftCorrection.NONE
CERTIFIED = 93.2
RIGHT_AT_ZERO = Beside("Z0", 0.0, 0.0, 0.0, 0.0)

VALUES = {
    ("control", "bare"): (80.0, 80.3, 80.5),
    ("wax", "bare"): (81.4, 81.6, 81.9),
    ("control", "applied"): (80.8, 80.7, 81.2),
    ("wax", "applied"): (84.9, 85.0, 85.4),
}


def read(stages: Sequence[str] = ("bare", "applied")) -> list[Sample]:
    """Control, then wax: at 10 to 30 s and 40 to 60 s of 70 s that each stage takes."""
    made = []
    for (zone, stage), values in VALUES.items():
        if stage not in stages:
            continue
        begun_s = 70.0 * stages.index(stage) + (30 if zone == "wax" else 0)
        for k, value in enumerate(values, 1):
            made.append(Sample(zone, zone, stage, k, "60", value, begun_s + 10 * k, len(made) + 1))
    return made


def chain(*found: float, u: float = 0.05, piece: str = "T1") -> list[Bracket]:
    """Three checks that read the piece as `found`; the second closes bare and opens applied."""
    doubt = Combined(u, math.inf)
    return [
        Bracket(
            stage, 70.0 * k, 70.0 * (k + 1), after - before, 0.15, "", before - CERTIFIED,
            opening_doubt=doubt, closing_doubt=doubt, piece=piece, certified=CERTIFIED,
            opening_check=k + 1, closing_check=k + 2,
        )
        for k, (stage, before, after) in enumerate(
            zip(("bare", "applied"), found, found[1:], strict=False)
        )
    ]  # fmt: skip


def alike(brackets: Sequence[Bracket]) -> list[Bracket]:
    """The same where no certified value tells that an error grows: all readings have it alike."""
    return [replace(b, certified=None) for b in brackets]


def corrected(
    how: DriftCorrection, brackets: Sequence[Bracket], samples: Sequence[Sample] | None = None
) -> CorrectedMeasure:
    plan, measure = plan_of(["control", "wax"], order=Order.BY_ZONE)
    measure = replace(measure, drift_correction=how)
    return corrected_measure(plan, measure, "60", samples or read(), brackets, 0.1)


def result(how: DriftCorrection, brackets: Sequence[Bracket]) -> MeasureResult:
    found = corrected(how, brackets).result
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("assigned", "before", "after", "number", "of", "reading", "wanted"),
    [
        # The cases gloss-drift-1 to -3 of the reference figures: own definition, computed.
        (92.4, 92.4, 91.9, 3, 6, 80.0, 80.18596),
        (92.4, 92.4, 93.0, 10, 10, 75.3, 74.858099),
        (95.0, 95.2, 94.6, 1, 5, 88.8, 88.706625),
    ],
)
def test_a_reading_is_corrected_by_gain_as_in_the_worked_examples(
    assigned: float,
    before: float,
    after: float,
    number: int,
    of: int,
    reading: float,
    wanted: float,
) -> None:
    sample = Sample("wax", "wax", "bare", 1, "60", reading, float(number), 1)
    bracket = Bracket(
        "bare", 0.0, of + 1.0, after - before, 0.15, "", before - assigned, certified=assigned
    )
    found = corrected(GAIN, [bracket], [sample])
    assert found.correction.readings[1].value == pytest.approx(wanted, abs=1e-4)
    assert found.correction.readings[1].correction == pytest.approx(wanted - reading, abs=1e-4)


def test_an_offset_correction_takes_the_known_shift_off_the_net_change() -> None:
    brackets = chain(93.3, 93.9, 93.6)
    plan, measure = plan_of(["control", "wax"], order=Order.BY_ZONE)
    (as_read,) = measure_results(plan, measure, read(), brackets, 0.1)
    then = judged(result(OFFSET, brackets), "wax")
    now = judged(as_read, "wax")
    # Bare: 30 s of 70 s apart while it drifted by 0.6; applied: by -0.3.
    of_drift = [b.contribution for b in now.budget.biases if b.name.startswith("steady drift of t")
                and "gain" not in b.name]  # fmt: skip
    assert sum(of_drift) == pytest.approx((-0.6 - 0.3) * 3 / 7)
    assert then.estimate == pytest.approx(now.estimate - sum(of_drift))
    # If it grows with the reading d (y / c - 1) is left in it, of a correction by -d.
    assert all("gain" in b.name for b in then.budget.biases)
    readings = corrected(OFFSET, brackets).correction.readings
    left = [-readings[k].correction * (readings[k].value / CERTIFIED - 1) for k in sorted(readings)]
    control, wax, control_after, wax_after = np.mean(np.reshape(left, (4, 3)), axis=1)
    assert then.budget.bias == pytest.approx(wax_after - wax - control_after + control, rel=0.01)
    assert "taken off each reading" in then.budget.cancels[0]
    assert "wider by as much" not in then.sentence


def test_means_are_corrected_too_and_their_checks_are_in_their_doubt() -> None:
    level = result(OFFSET, chain(93.3, 93.9, 93.6)).level("control", "bare")
    assert level is not None
    assert level.budget is not None
    # Read at 2/7 of the time on average: 0.1 + 0.6 * 2/7 too high.
    assert level.cell.mean == pytest.approx(np.mean(VALUES["control", "bare"]) - 0.1 - 0.6 * 2 / 7)
    parts = {t.name: t.contribution for t in level.budget.terms}
    assert parts["reading of check 1, piece T1"] == pytest.approx(0.05 * 5 / 7)
    assert parts["reading of check 2, piece T1"] == pytest.approx(0.05 * 2 / 7)
    assert parts["certificate of the reference piece T1"] == pytest.approx(0.15)


def test_both_sides_of_a_difference_share_their_checks_as_in_the_worked_example() -> None:
    # The bare stage alone: zones 30 s of 70 s apart, and an error of either check counts by that
    # in the difference (JCGM 100:2008, 5.1.2; the case `bracketing.difference`).
    bracket = chain(93.3, 93.9, 93.6)[0]
    still = chain(93.9, 93.9, 93.9, u=0.0)[1]
    c = judged(result(OFFSET, alike([bracket, still])), "wax")
    read_1, read_2 = (t for t in c.budget.terms if t.name.startswith("reading of check"))
    assert [read_1.contribution, read_2.contribution] == pytest.approx([0.05 * 30 / 70] * 2)
    c = judged(result(OFFSET, [bracket, still]), "wax")
    # Of the certificate the difference has its own share: 0.15 of 93.2, by what it is itself.
    (certificate,) = (t for t in c.budget.terms if t.name.startswith("certificate"))
    assert certificate.sensitivity == pytest.approx(c.estimate / CERTIFIED)


@pytest.mark.parametrize("how", [OFFSET, GAIN])
def test_each_check_counts_once_by_what_an_error_of_it_would_do(how: DriftCorrection) -> None:
    found = (93.3, 93.9, 93.6)
    c = judged(result(how, chain(*found)), "wax")
    lines = {t.name: abs(t.sensitivity) for t in c.budget.terms}
    for number in range(3):
        moved = list(found)
        moved[number] += 1e-4
        then = judged(result(how, chain(*moved)), "wax")
        # What was found of the gain stays in the result and is told beside it; that it is taken of
        # readings which move by as much is of second order.
        by = then.estimate - then.budget.bias - (c.estimate - c.budget.bias)
        assert lines[f"reading of check {number + 1}, piece T1"] == pytest.approx(
            abs(by) / 1e-4, rel=1e-2
        )


def test_the_check_between_two_stages_counts_twice_where_zones_keep_their_order() -> None:
    c = judged(result(OFFSET, alike(chain(93.3, 93.9, 93.6))), "wax")
    parts = [t.sensitivity for t in c.budget.terms if t.name.startswith("reading of check")]
    assert parts == pytest.approx([3 / 7, -6 / 7, 3 / 7])


def test_the_same_check_cancels_where_one_zone_changed_between_two_stages() -> None:
    change = result(OFFSET, alike(chain(93.3, 93.9, 93.6))).changes[0]
    assert change.budget is not None
    parts = [t.sensitivity for t in change.budget.terms if t.name.startswith("reading of check")]
    # Check 2 is subtracted from bare by 2/7 of it and from applied by 5/7.
    assert parts == pytest.approx([-5 / 7, -2 / 7 + 5 / 7, 2 / 7])


def test_a_certified_value_that_is_wrong_scales_a_difference_by_gain() -> None:
    told = [replace(b, foot=RIGHT_AT_ZERO) for b in chain(93.3, 93.9, 93.6)]
    c = judged(result(GAIN, told), "wax")
    (line,) = (t for t in c.budget.terms if t.name.startswith("certificate"))
    assert line.contribution == pytest.approx(0.15 * c.estimate / CERTIFIED)


def test_what_a_correction_takes_for_granted_of_one_piece_is_said() -> None:
    brackets = chain(93.3, 93.9, 93.6)
    level = result(OFFSET, brackets).level("control", "bare")
    assert level is not None
    assert level.budget is not None
    assert (
        "is the same at all readings, as it was taken to be. What is left if it was in proportion "
        "to the reading counts where it makes the interval wider."
    ) in level.budget.cancels[0]
    gained = judged(result(GAIN, brackets), "wax").budget.cancels[0]
    assert (
        "is all in proportion to the reading, as it was taken to be. What is left if it was the "
        "same at all readings counts where it makes the interval wider."
    ) in gained
    told = [replace(b, foot=Beside("Z0", 0.0, 0.0, 0.0, 0.02)) for b in brackets]
    assert "second piece" not in judged(result(GAIN, told), "wax").budget.cancels[0]
    # Of a zero alone nothing tells a gain, and nothing is counted of one.
    zeros = [replace(b, piece="Z0", certified=0.0) for b in brackets]
    assert "as it is taken to be" in judged(result(OFFSET, zeros), "wax").budget.cancels[0]


def test_what_a_drift_of_another_course_may_do_stays_in_the_doubt() -> None:
    c = judged(result(OFFSET, chain(93.3, 93.9, 93.6)), "wax")
    courses = [t for t in c.budget.terms if t.distribution is Distribution.COURSE]
    assert [t.u for t in courses] == pytest.approx([0.6, 0.3])
    assert all(t.contribution > 0 for t in courses)


def test_nothing_is_corrected_where_one_reading_of_a_stage_has_no_closing_check() -> None:
    bare, applied = chain(93.3, 93.9, 93.6)
    closed = replace(applied, closing_at_s=105.0)
    unclosed = Bracket("applied", 105.5, None, None, 0.15, "", 0.3)
    found = corrected(OFFSET, [bare, closed, unclosed])
    assert found.correction.why_not == {
        "applied": "of 6 readings at applied that count, 3 have no passed closing check"
    }
    assert found.result is not None
    assert found.result.stages == ("bare",)
    assert found.result.comparisons == ()
    assert {found.correction.readings[k].bracket for k in found.correction.readings} == {bare}


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"is_broken": True, "drift": None}, "no closing check before the meter was re-adjusted"),
        ({"drift": None}, "no passed closing check"),
        ({"certified": 0.0}, "no reference piece that shows a gain"),
        ({"opening_deviation": -CERTIFIED}, "no reference piece that shows a gain"),
    ],
)
def test_it_is_said_why_a_stage_stays_as_it_was_read(changes: dict[str, object], why: str) -> None:
    bare, applied = chain(93.3, 93.9, 93.6)
    found = corrected(GAIN, [bare, replace(applied, **changes)])  # type: ignore[arg-type]
    assert f"all 6 readings at applied that count have {why}" in found.correction.why_not["applied"]
    assert corrected(GAIN, [bare]).correction.why_not["applied"].endswith("count have no check")
    assert "bare" not in found.correction.why_not


def test_without_any_closed_bracket_there_is_no_corrected_result() -> None:
    found = corrected(OFFSET, [])
    assert found.result is None
    assert found.correction.readings == {}
    assert set(found.correction.why_not) == {"bare", "applied"}


def test_a_measure_that_is_not_to_be_corrected_is_refused() -> None:
    with pytest.raises(ValueError, match="not to be corrected"):
        corrected(NONE, chain(93.3, 93.9, 93.6))


def test_a_steady_drift_that_hid_a_difference_does_so_no_more() -> None:
    plan, measure = plan_of(["control", "wax"], order=Order.BY_ZONE)
    brackets = chain(93.2, 96.2, 93.2)
    (as_read,) = measure_results(plan, measure, read(), brackets, 0.1)
    before, after = judged(as_read, "wax"), judged(result(OFFSET, brackets), "wax")
    assert before.interval[1] - before.interval[0] > after.interval[1] - after.interval[0]
    assert abs(before.estimate - after.estimate) == pytest.approx(6 * 3 / 7)


@pytest.mark.parametrize("how", [NONE, OFFSET])
@pytest.mark.parametrize("is_one_chain", [False, True])
@pytest.mark.parametrize("drifts", [(-0.9, 0.9), (0.0, 0.0)])
def test_a_steady_drift_makes_no_false_decision_more_than_once_in_twenty(
    how: DriftCorrection, is_one_chain: bool, drifts: tuple[float, float]
) -> None:
    scenario = Scenario("linear", drifts, correction=how, is_one_chain=is_one_chain)
    assert shown_rate(scenario, 60) <= 0.05 + allowance(60)


@pytest.mark.parametrize("course", ["step", "warm-up"])
def test_nor_does_a_drift_of_another_course_that_is_corrected_as_a_straight_line(
    course: str,
) -> None:
    scenario = Scenario(course, (-0.9, 0.9), correction=OFFSET, is_one_chain=True)
    assert shown_rate(scenario, 100) <= 0.05 + allowance(100)


def test_a_drifting_scale_is_corrected_by_gain_as_well() -> None:
    scenario = Scenario("linear", (-2.0, 2.0), correction=GAIN, is_gain=True, is_one_chain=True)
    assert shown_rate(scenario, 60) <= 0.05 + allowance(60)


@pytest.mark.parametrize("how", [OFFSET, GAIN])
def test_ninety_five_of_a_hundred_intervals_hold_the_truth(how: DriftCorrection) -> None:
    # Restless checks and quiet readings, so that the doubt of the checks is most of it. What is
    # allowed for rounding and for a drift of another course is set aside: nothing of either is
    # here, and with them 99 of 100 intervals hold it.
    scenario = Scenario(
        "linear", (-0.9, 0.9), replicates=12, effect=2.0, correction=how, is_one_chain=True,
        is_gain=how is GAIN, piece_scatter=1.0,
    )  # fmt: skip
    draw, runs, held, error, doubt = np.random.default_rng(11), 150, 0, 0.0, 0.0
    for _ in range(runs):
        c = trial_result(scenario, draw).comparison("wax", "applied")
        assert isinstance(c, Comparison)
        terms = [t for t in c.budget.terms if t.distribution is Distribution.NORMAL]
        reach = reach_of(terms)
        held += abs(c.estimate - 2.0) <= reach.half_width(0.05)
        error += (c.estimate - 2.0) ** 2 / runs
        doubt += sum(t.contribution**2 for t in terms) / runs
    assert held / runs >= 0.95 - allowance(runs)
    # Six parts of check error, where checks taken as unrelated would make four: 1.22 times as much.
    assert math.sqrt(error / doubt) == pytest.approx(1.0, abs=0.15)


def test_a_refusal_of_what_was_read_stays_one_when_corrected() -> None:
    samples = [s for s in read() if (s.zone, s.stage) != ("wax", "applied")]
    found = corrected(OFFSET, chain(93.3, 93.9, 93.6), samples).result
    assert found is not None
    assert isinstance(found.comparison("wax", "applied"), Refusal)


def test_nobody_is_sent_to_read_what_was_given_up_by_a_corrected_result_either() -> None:
    samples = [s for s in read() if (s.zone, s.stage) != ("wax", "bare")]
    plan, measure = plan_of(["control", "wax"], order=Order.BY_ZONE)
    found = corrected_measure(
        plan, replace(measure, drift_correction=OFFSET), "60", samples, chain(93.3, 93.9, 93.6),
        0.1, given_up=[("wax", "bare")],
    ).result  # fmt: skip
    assert found is not None
    refused = found.comparison("wax", "applied")
    assert isinstance(refused, Refusal)
    assert refused.next_step.startswith("none, since it was given up")
