"""From readings to decisions in words."""

from __future__ import annotations

import math

import numpy as np
import pytest

from acquire.analysis.budget.reach import Reach
from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.laws.student import t_factor
from acquire.analysis.results import measure_results
from acquire.analysis.treatments.decision import Decision
from tests.unit.analysis.bench import (
    BARE,
    DOWN,
    UP,
    judged,
    plan_of,
    quiet,
    result_of,
    samples_of,
    texts_in,
    trial,
)


def test_a_clear_rise_is_better_and_a_clear_fall_worse() -> None:
    result = result_of(trial(wax=UP, seal=DOWN, dust=BARE))
    assert judged(result, "wax").decision is Decision.BETTER
    assert judged(result, "seal").decision is Decision.WORSE
    assert judged(result, "dust").decision is Decision.NOT_SHOWN
    assert judged(result, "wax").estimate == pytest.approx(2.0)
    assert judged(result, "wax").sentence.startswith(
        "Wax, applied: better than the control. Net change against the control +2.00 GU, "
        "95 % interval +1.48 to +2.52 GU."
    )


def test_where_lower_is_better_the_words_turn_round() -> None:
    result = result_of(trial(wax=UP, seal=DOWN), higher_is_better=False)
    assert judged(result, "wax").decision is Decision.WORSE
    assert judged(result, "seal").decision is Decision.BETTER


def test_what_the_control_did_too_is_taken_off() -> None:
    readings = dict(trial(wax=UP))
    readings["control", "applied"] = UP
    comparison = judged(result_of(readings), "wax")
    assert comparison.treated_change == pytest.approx(2.0)
    assert comparison.control_change == pytest.approx(2.0)
    assert comparison.estimate == pytest.approx(0.0)
    assert comparison.decision is Decision.NOT_SHOWN


def test_the_uncertainty_of_a_net_change_is_that_of_its_four_means() -> None:
    comparison = judged(result_of(trial(wax=UP), resolution=0.0), "wax")
    # Four means of three readings with s = 0.1; each makes a quarter of the variance, and one of
    # them counts with its own two degrees of freedom.
    assert comparison.budget.combined == pytest.approx(0.1 * math.sqrt(4 / 3))
    k = math.sqrt(t_factor(math.inf) ** 2 * 3 / 4 + t_factor(2) ** 2 / 4)
    assert comparison.critical_value == pytest.approx(k)
    assert comparison.budget.expanded == pytest.approx(k * 0.1 * math.sqrt(4 / 3))
    low, high = comparison.interval
    assert high - low == pytest.approx(2 * comparison.budget.expanded)


def test_more_treatments_make_the_limit_wider() -> None:
    one = judged(result_of(trial(wax=UP)), "wax")
    three = judged(result_of(trial(wax=UP, seal=DOWN, dust=BARE)), "wax")
    assert three.critical_value > one.critical_value
    assert "Each of the 3 treatments is held at 98.3 %, 0.95^(1/3)" in three.budget.coverage_rule
    assert "treatments" not in one.budget.coverage_rule


def test_equality_is_only_shown_inside_a_margin_named_in_advance() -> None:
    assert judged(result_of(trial(wax=BARE)), "wax").decision is Decision.NOT_SHOWN
    assert judged(result_of(trial(wax=BARE), margin="0.5"), "wax").decision is Decision.EQUAL
    assert judged(result_of(trial(wax=BARE), margin="0.1"), "wax").decision is Decision.NOT_SHOWN


def test_a_difference_smaller_than_the_margin_is_called_equal_and_still_shown() -> None:
    comparison = judged(result_of(trial(wax=UP), margin="3"), "wax")
    assert comparison.decision is Decision.EQUAL
    assert comparison.is_difference_shown
    assert "shown equal to the control within ±3 GU" in comparison.sentence
    assert "A difference is shown too, but it is smaller than the margin." in comparison.sentence


def test_no_difference_shown_is_not_called_equal() -> None:
    sentence = judged(result_of(trial(wax=BARE)), "wax").sentence
    assert "no difference from the control shown" in sentence
    assert "does not mean that there is none" in sentence
    assert "The smallest difference this run could have seen is" in sentence


def test_the_smallest_visible_difference_is_larger_than_the_limit_of_decision() -> None:
    comparison = judged(result_of(trial(wax=BARE, seal=UP)), "wax")
    assert comparison.smallest_visible > comparison.budget.expanded
    assert comparison.smallest_visible < 2 * comparison.budget.expanded


def test_what_could_have_been_seen_is_worked_out_where_it_is_asked_and_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """It takes as long as all the rest of a comparison, and thousands of drawn trials ask none."""
    asked = []
    smallest = Reach.smallest

    def counted(reach: Reach, alpha: float, power: float) -> float:
        asked.append(alpha)
        return smallest(reach, alpha, power)

    monkeypatch.setattr(Reach, "smallest", counted)
    comparison = judged(result_of(trial(wax=BARE, seal=UP)), "wax")
    assert comparison.decision is Decision.NOT_SHOWN
    assert asked == []
    assert "The smallest difference this run could have seen is" in comparison.sentence
    assert comparison.smallest_visible > 0
    assert len(asked) == 1


def test_an_outlier_is_named_with_its_number_and_counted() -> None:
    readings = dict(trial(wax=(92.0, 92.1, 92.2, 92.1, 92.0, 88.0)))
    result = result_of(readings)
    comparison = judged(result, "wax")
    flags = [text for text in comparison.caveats if "stands out" in text]
    assert len(flags) == 1
    assert "the reading of 88 GU (reading number 15)" in flags[0]
    level = result.level("wax", "applied")
    assert level is not None
    assert level.cell.flagged is not None
    assert level.cell.flagged.reading_id == 15
    assert level.cell.n == 6


def test_every_zone_is_judged_by_its_own_scatter_however_restless_another_one_is() -> None:
    readings = dict(trial(wax=(85.0, 99.0, 92.0), seal=UP))
    result = result_of(readings, resolution=0.0)
    assert judged(result, "seal").budget.nu == pytest.approx(8)
    assert judged(result, "wax").budget.nu < 2.1
    assert judged(result, "seal").decision is Decision.BETTER
    assert judged(result, "wax").decision is Decision.NOT_SHOWN


def test_several_zones_stand_as_their_mean_and_the_doubt_is_said() -> None:
    readings = dict(trial(wax1=UP, wax2=(93.0, 93.1, 93.2)))
    comparison = judged(result_of(readings, resolution=0.0), "wax")
    assert comparison.zones == ("wax1", "wax2")
    assert comparison.estimate == pytest.approx(2.5)
    # Variance of the mean of two zones is half; the control's is whole.
    assert comparison.budget.combined == pytest.approx(0.1 * math.sqrt(2 / 3 / 2 + 2 / 3))
    assert any("The mean of 2 zones stands for Wax" in text for text in comparison.caveats)
    assert any("One zone stands for the control" in text for text in comparison.caveats)


def test_each_stage_after_bare_is_judged_by_itself() -> None:
    readings = dict(trial(wax=UP))
    readings |= {("control", "washed"): BARE, ("wax", "washed"): BARE}
    result = result_of(readings)
    assert [(c.treatment, c.stage) for c in result.comparisons] == [
        ("wax", "applied"),
        ("wax", "washed"),
    ]
    assert judged(result, "wax", "washed").decision is Decision.NOT_SHOWN


def test_geometries_never_mix() -> None:
    plan, measure = plan_of(["control", "wax"], channels=("20", "60"))
    samples = samples_of(trial(wax=UP), "60") + samples_of(trial(wax=DOWN), "20")
    brackets = [quiet("bare", 0), quiet("applied", 1000)]
    at_20, at_60 = measure_results(plan, measure, samples, brackets, 0.1)
    assert (at_20.channel, at_60.channel) == ("20", "60")
    assert judged(at_20, "wax").decision is Decision.WORSE
    assert judged(at_60, "wax").decision is Decision.BETTER
    assert "It is measured here too: decide by 20°." in at_60.advice[0]
    assert not any("separates" in text for text in at_20.advice)


def test_a_better_angle_is_advised_from_the_means_at_60_degrees() -> None:
    low = {k: tuple(v - 85 for v in values) for k, values in trial(wax=UP).items()}
    assert "4 of 4 means at 60° lie below 10 GU (5.1 to 7.1 GU): 85°" in result_of(low).advice[0]
    middle = {k: tuple(v - 40 for v in values) for k, values in trial(wax=UP).items()}
    assert result_of(middle).advice == ()


def test_a_loss_of_gloss_is_explained_and_not_called_an_error() -> None:
    result = result_of(trial(seal=DOWN))
    assert any("a loss is not an error by itself" in text for text in result.advice)
    assert not any("Fresnel" in text for text in result_of(trial(wax=UP)).advice)


def test_levels_and_changes_read_as_sentences() -> None:
    result = result_of(trial(wax=UP), replicates=5)
    level = result.level("wax", "bare")
    assert level is not None
    assert level.sentence.startswith("Zone wax, bare: 90.10 GU ± 0.")
    assert level.remarks == ("Zone wax, bare: 3 of 5 planned readings.",)
    change = next(c for c in result.changes if c.zone == "wax")
    assert change.sentence.startswith(
        "Zone wax (Wax) rose by 2.00 GU from bare (90.10 GU) to applied (92.10 GU); uncertainty 0."
    )
    assert change.retention is not None
    assert change.retention.percent == pytest.approx(100 * 92.1 / 90.1)
    still = next(c for c in result.changes if c.zone == "control")
    assert still.sentence.startswith("Zone control (Control) did not change from bare")


def test_every_text_is_a_sentence_without_loose_ends() -> None:
    result = result_of(trial(wax=UP, seal=DOWN, dust=BARE, tar=()), margin="0.5")
    for text in texts_in(result):
        assert "  " not in text
        assert " ." not in text
        assert "None" not in text
        assert "nan" not in text.split()
    for text in (*result.rules, *result.advice, *(c.sentence for c in result.comparisons)):
        assert text[0].isupper() or text[0].isdigit()
        assert text.endswith(".")


def test_of_trials_without_any_difference_at_most_one_in_twenty_shows_one() -> None:
    # The promise of the 95 % where all zones scatter alike: with known drift, no display error and
    # three treatments that do nothing. 500 runs; three standard errors are 2.9 %.
    draw = np.random.default_rng(20)
    zones = ("control", "wax", "seal", "dust")
    false = 0
    for _ in range(500):
        readings = {
            (z, s): tuple(map(float, draw.normal(90, 0.2, 4)))
            for s in ("bare", "applied")
            for z in zones
        }
        result = result_of(readings, resolution=0.0)
        false += any(c.is_difference_shown for c in result.comparisons if isinstance(c, Comparison))
    assert false / 500 < 0.05 + 0.029


def test_one_wild_reading_does_not_round_the_changes_of_other_zones_away() -> None:
    wild = (92.0, 92.1, 12.0)
    result = result_of(trial(wax1=(91.0, 91.1, 91.2), wax2=(92.0, 92.1, 92.2), seal=wild))
    (said,) = [t for t in judged(result, "wax").caveats if "their changes range from" in t]
    assert "from +1.00 to +2.00 GU" in said


def test_a_range_of_means_has_no_more_digits_than_its_smallest_uncertainty() -> None:
    rough = {k: (3.0, 5.0, 4.0) for k in trial(wax=UP)}
    assert "(4.0 to 4.0 GU)" in result_of(rough).advice[0]
    rougher = {k: (-20.0, 35.0, 2.0) for k in trial(wax=UP)}
    assert "(6 to 6 GU)" in result_of(rougher).advice[0]
