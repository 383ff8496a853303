"""What a study lends to results: where zones have few readings, and never at their cost."""

from __future__ import annotations

import math

import numpy as np
import pytest

from acquire.analysis.comparisons.comparison import Comparison, Refusal
from acquire.analysis.results import MeasureResult, measure_results
from acquire.analysis.samples.repeatability import Lent, Repeatability, is_exceeded
from acquire.analysis.samples.summary import summarise
from tests.unit.analysis_bench import Readings, has_nan, plan_of, quiet, samples_of, trial

STUDY = Repeatability(0.2, 45, 88.0, 92.0, "study 3 of 2026-11-20")
MISSING = "No repeatability study of serial number SH-1 at 60° is in use. The default is in use."


def result(readings: Readings, known: Repeatability | None = STUDY) -> MeasureResult:
    lent = Lent({} if known is None else {"60": known}, {"60": MISSING} if known is None else {})
    stages = list(dict.fromkeys(stage for _, stage in readings))
    plan, measure = plan_of(list(dict.fromkeys(zone for zone, _ in readings)), stages)
    brackets = [quiet(stage, 1000.0 * i) for i, stage in enumerate(stages)]
    (found,) = measure_results(plan, measure, samples_of(readings), brackets, 0.1, lent)
    return found


def once(value: float) -> Readings:
    """Every zone read once at each stage; the wax ends at `value`."""
    return {
        ("control", "bare"): (90.0,),
        ("wax", "bare"): (90.0,),
        ("control", "applied"): (90.0,),
        ("wax", "applied"): (value,),
    }


def test_zones_read_once_are_judged_by_the_study_and_the_result_says_so() -> None:
    found = result(once(91.5)).comparison("wax", "applied")
    assert isinstance(found, Comparison)
    (term,) = [t for t in found.budget.terms if t.name.startswith("scatter of single readings")]
    # Four single readings, each with weight 1 or -1: 2 s_r, known with the study's 45 degrees.
    assert (term.contribution, term.nu) == (pytest.approx(2 * 0.2), 45)
    assert "study 3 of 2026-11-20" in term.note
    assert found.is_difference_shown
    rules = "\n".join(result(once(91.5)).rules)
    assert "0.20 GU from study 3 of 2026-11-20 (45 degrees of freedom)" in rules


def test_without_a_study_the_default_is_named_and_zones_read_once_stay_undecided() -> None:
    found = result(once(91.5), None)
    refusal = found.comparison("wax", "applied")
    assert isinstance(refusal, Refusal)
    assert "only one reading" in refusal.sentence
    assert MISSING in found.rules


def test_a_mean_beyond_the_levels_of_the_study_is_lent_nothing() -> None:
    found = result(once(60.0)).comparison("wax", "applied")
    assert isinstance(found, Refusal)
    assert "beyond the levels of study 3 of 2026-11-20" in found.sentence


def test_single_readings_with_a_study_of_few_readings_keep_95_of_100_intervals() -> None:
    rng = np.random.default_rng(95)
    held = 0
    for _ in range(400):
        drawn = float(rng.standard_normal(10).std(ddof=1)) * 0.2
        known = Repeatability(drawn, 9, 80.0, 95.0, "study 1 of 2026-11-20")
        bare, control, before, after = (90 + 0.2 * rng.standard_normal(4)).tolist()
        readings = {
            ("control", "bare"): (bare,),
            ("wax", "bare"): (before,),
            ("control", "applied"): (control,),
            ("wax", "applied"): (after,),
        }
        found = result(readings, known).comparison("wax", "applied")
        assert isinstance(found, Comparison)
        held += found.interval[0] <= 0 <= found.interval[1]
    assert held / 400 >= 0.94


def test_a_study_never_makes_an_interval_of_zones_read_twice_narrower() -> None:
    rng = np.random.default_rng(4)
    for scatter in (0.02, 0.2, 0.6):
        for _ in range(20):
            readings = {
                key: tuple((v + scatter * rng.standard_normal(3)).tolist())
                for key, v in (
                    (("control", "bare"), 90.0),
                    (("wax", "bare"), 90.0),
                    (("control", "applied"), 90.0),
                    (("wax", "applied"), 91.0),
                )
            }
            own = result(readings, None).comparison("wax", "applied")
            with_study = result(readings).comparison("wax", "applied")
            assert isinstance(own, Comparison)
            assert isinstance(with_study, Comparison)
            width = with_study.interval[1] - with_study.interval[0]
            assert width >= (own.interval[1] - own.interval[0]) * (1 - 1e-12)


def test_a_zone_whose_readings_agree_by_luck_is_not_taken_for_surer_than_the_study() -> None:
    level = result(trial(wax=(91.0, 91.0, 91.0))).level("wax", "applied")
    assert level is not None
    assert level.budget is not None
    (term,) = [t for t in level.budget.terms if t.name.startswith("scatter in zone wax")]
    # t of 2 degrees times the raised sd is t of 45 times the study's: 4.303 and 2.014 (tables of
    # Student's t, from memory).
    assert term.u * 4.303 == pytest.approx(2.014 * 0.2 / math.sqrt(3), rel=1e-3)
    assert "agree better than study 3" in term.note


def test_where_the_zones_scatter_more_than_the_study_it_is_lent_to_nobody() -> None:
    rough = (90.0, 91.4, 88.8)
    readings: Readings = {
        **{(f"wax{k}", stage): rough for k in range(1, 4) for stage in ("bare", "applied")},
        ("control", "bare"): (90.0,),
        ("control", "applied"): (90.0,),
    }
    found = result(readings)
    assert isinstance(found.comparison("wax", "applied"), Refusal)
    assert any("something else than the meter scatters" in rule for rule in found.rules)


def test_zones_that_scatter_as_the_study_are_seldom_said_to_scatter_more() -> None:
    rng = np.random.default_rng(8)
    said = 0
    for _ in range(1000):
        sds = (0.2 * rng.standard_normal((12, 3)).std(axis=1, ddof=1)).tolist()
        said += is_exceeded(STUDY, sds, [2.0] * 12)
    assert said / 1000 <= 0.05
    assert not is_exceeded(STUDY, [], [])


def test_a_reading_that_three_alone_cannot_show_is_flagged_by_the_study_and_counted() -> None:
    values = (90.0, 90.1, 91.3)
    assert not summarise(values, 0.1).is_flagged
    by_study = summarise(values, 0.1, STUDY)
    assert by_study.is_flagged
    assert by_study.outlier is not None
    assert by_study.outlier.suspect == 2
    assert by_study.outlier.by == "study 3 of 2026-11-20"
    assert by_study.mean == summarise(values, 0.1).mean
    level = result(trial(wax=values)).level("wax", "applied")
    assert level is not None
    assert any("times the repeatability from study 3" in remark for remark in level.remarks)
    assert not summarise((90.0, 90.2, 90.4), 0.1, STUDY).is_flagged


def test_the_flag_by_a_study_comes_up_once_in_twenty_of_good_zones() -> None:
    rng = np.random.default_rng(20)
    flagged = sum(
        summarise((90 + 0.2 * rng.standard_normal(5)).tolist(), 0.0, STUDY).is_flagged
        for _ in range(2000)
    )
    # Grubbs' own test and the study's, 5 % each, mostly on the same readings.
    # 100 and three standard errors; both tests at the full level flagged 170.
    assert flagged <= 129


def test_two_readings_far_apart_are_told_and_neither_is_flagged() -> None:
    apart = summarise((90.0, 91.0), 0.1, STUDY)
    assert not apart.is_flagged
    assert "take more readings" in apart.remark
    assert summarise((90.0, 90.3), 0.1, STUDY).remark == ""


def test_nothing_lent_leaves_no_trace_and_nothing_is_nan() -> None:
    plain = result(trial(wax=(91.0, 91.1, 91.2)), None)
    assert not has_nan(plain)
    assert not has_nan(result(once(91.0)))
