"""What a study lends to results: it counts beside the readings, and more of them say more."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from acquire.analysis.budget.uncertainty import Term
from acquire.analysis.cells.contrast import Contrast, value_of
from acquire.analysis.comparisons.comparison import Comparison, Refusal
from acquire.analysis.results import MeasureResult, measure_results
from acquire.analysis.samples.repeatability import Lent, Repeatability, far, is_exceeded
from acquire.analysis.samples.summary import summarise
from acquire.analysis.specimens.scatter import lines_apart, scatter_terms
from tests.unit.analysis.bench import Readings, has_nan, plan_of, quiet, samples_of, trial
from tests.unit.analysis.lent import drawn, scenario

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
    (term,) = [t for t in found.budget.terms if t.name.startswith("scatter by the study: ")]
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


def test_more_readings_of_zones_that_scatter_as_the_study_are_judged_ever_surer() -> None:
    """Two readings were judged 7 times as wide as one, by one degree of freedom of their own."""
    found = [drawn(scenario(3, readings), 45, 60) for readings in (1, 2, 3, 5, 10)]
    halves = [f.half for f in found]
    assert halves == sorted(halves, reverse=True)
    # 20,000 trials drawn by plain arithmetic: 4.8, 4.0, 3.2, 2.45 and 1.7.
    assert halves == pytest.approx([4.8, 4.0, 3.2, 2.45, 1.7], rel=0.05)
    assert sum(f.false for f in found) / len(found) <= 0.05


@pytest.mark.parametrize("noisy", ["everyone", "control"])
def test_zones_that_scatter_more_than_the_study_err_less_often_the_more_they_are_read(
    noisy: str,
) -> None:
    one, three, ten = (drawn(scenario(3, n, noisy, 3.0), 45, 150).false for n in (1, 3, 10))
    assert one > 0.2
    assert three < one / 2
    assert ten < 0.08


def net_change(wax: tuple[float, ...]) -> Comparison:
    found = result(trial(control=(90.0,), wax=wax)).comparison("wax", "applied")
    assert isinstance(found, Comparison)
    return found


def scatter_in_wax(wax: tuple[float, ...]) -> Term:
    (term,) = [t for t in net_change(wax).budget.terms if t.name == "scatter in zone wax, applied"]
    return term


def test_a_zone_whose_readings_agree_by_luck_is_not_taken_for_surer_than_the_study() -> None:
    level = result(trial(wax=(91.0, 91.0, 91.0))).level("wax", "applied")
    assert level is not None
    assert level.budget is not None
    (term,) = [t for t in level.budget.terms if t.name.startswith("scatter by the study: zone wax")]
    assert term.contribution == pytest.approx(0.2 / math.sqrt(3))
    assert term.nu == 45
    assert "(n = 3)" in term.name


def test_readings_that_scatter_more_than_the_study_have_their_scatter_at_both_degrees() -> None:
    term = scatter_in_wax((91.0, 91.4, 91.8))
    assert (term.u, term.nu) == (pytest.approx(0.4 / math.sqrt(3)), 45 + 2)
    assert "the degrees of freedom of both count" in term.note


def test_a_zone_that_scatters_beyond_what_chance_has_is_judged_by_itself() -> None:
    # F of 2 and 45 degrees of freedom at 0.001 is 8.09 (scipy.stats): 2.84 times the study.
    assert far(3, 45) == pytest.approx(math.sqrt(float(stats.f.isf(0.001, 2, 45))))
    term = scatter_in_wax((91.0, 91.6, 92.2))
    assert (term.u, term.nu) == (pytest.approx(0.6 / math.sqrt(3)), 2)
    assert "judged by themselves" in term.note


def test_the_line_of_a_study_is_taken_apart_zone_by_zone_for_what_treatments_share() -> None:
    found = result(trial(control=(90.0, 90.1), wax=(91.0, 91.1)))
    by_zone = {(c.zone, c.stage): c for c in found.judged}
    contrast = Contrast(
        tuple(
            (by_zone[zone, stage], sign)
            for zone, stage, sign in (
                ("wax", "applied", 1.0), ("wax", "bare", -1.0),
                ("control", "applied", -1.0), ("control", "bare", 1.0),
            )
        )
    )  # fmt: skip
    (line,) = scatter_terms(contrast, STUDY)
    apart = {name: weight for name, weight, _ in lines_apart(line, contrast, STUDY)}
    assert len(apart) == 4
    assert math.hypot(*apart.values()) == pytest.approx(line.contribution)
    n = by_zone["control", "applied"].n
    assert apart["scatter in zone control, applied"] == pytest.approx(-0.2 / math.sqrt(n))


def test_what_more_readings_would_say_is_reckoned_by_the_same_rule() -> None:
    """A zone whose gain is not shown is told how many readings would show it."""
    (cell,) = [c for c in result(once(91.5)).judged if (c.zone, c.stage) == ("wax", "applied")]
    (one,), (four,) = (scatter_terms(value_of(cell), STUDY, least=n) for n in (1, 4))
    assert one.contribution == pytest.approx(0.2)
    assert (four.contribution, four.nu) == (pytest.approx(0.1), 45)
    apart = result(trial(control=(90.0,), wax=(91.0, 91.3)))
    (cell,) = [c for c in apart.judged if (c.zone, c.stage) == ("wax", "applied")]
    (two,), (eight,) = (scatter_terms(value_of(cell), STUDY, least=n) for n in (1, 8))
    assert eight.u == pytest.approx(two.u / 2)
    assert (two.nu, eight.nu) == (46, 52)


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


@pytest.mark.parametrize(("zones", "readings", "nu"), [(8, 3, 10), (14, 5, 25), (26, 10, 10)])
def test_zones_that_scatter_as_the_study_are_seldom_said_to_scatter_more(
    zones: int, readings: int, nu: int
) -> None:
    """All are held against one study, which may have come out small: up to 33 of 100 were."""
    rng = np.random.default_rng(8)
    said = 0
    for _ in range(1000):
        study = replace(STUDY, sd=0.2 * math.sqrt(rng.chisquare(nu) / nu), nu=nu)
        sds = (0.2 * rng.standard_normal((zones, readings)).std(axis=1, ddof=1)).tolist()
        said += is_exceeded(study, sds, [readings - 1.0] * zones)
    # 5 % and three standard errors.
    assert said / 1000 <= 0.071
    assert not is_exceeded(STUDY, [], [])


def test_zones_of_a_texture_are_told_from_the_study_by_their_number() -> None:
    rng = np.random.default_rng(9)
    said = 0
    for _ in range(300):
        sds = (0.4 * rng.standard_normal((14, 3)).std(axis=1, ddof=1)).tolist()
        counts = [2.0] * 14
        assert is_exceeded(STUDY, sds[:1], counts[:1]) is False
        said += is_exceeded(STUDY, sds, counts)
    assert said / 300 > 0.7


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
