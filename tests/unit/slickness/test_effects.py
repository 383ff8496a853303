"""Dwell and first pull: fitted, tested, and told apart only where the pulls allow it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import linregress, ttest_1samp

from acquire.analysis.slickness.effects import Series, dwell_fit, effects_of, first_pull

DWELLS = [1.0, 3.0, 10.0, 30.0, 100.0, 300.0, 2.0, 20.0]


def drawn(seed: int, per_decade: float, first: float, lanes: int = 3) -> list[Series]:
    draw = np.random.default_rng(seed)
    found = []
    for lane in range(lanes):
        t = draw.permutation(DWELLS)
        mu = 0.3 + 0.02 * lane + per_decade * np.log10(t) + draw.normal(0, 0.005, t.size)
        mu[0] += first
        found.append(Series(mu.tolist(), t.tolist()))
    return found


def test_the_fit_agrees_with_another_library_s_regression() -> None:
    draw = np.random.default_rng(3)
    mu = 0.2 + 0.015 * np.log10(DWELLS) + draw.normal(0, 0.004, len(DWELLS))
    ours, theirs = dwell_fit(DWELLS, mu.tolist()), linregress(np.log10(DWELLS), mu)
    assert ours.per_decade.size == pytest.approx(theirs.slope)
    assert ours.per_decade.u == pytest.approx(theirs.stderr)
    assert ours.per_decade.p == pytest.approx(theirs.pvalue)
    assert ours.at_1_s == pytest.approx(theirs.intercept)


def test_the_first_pull_is_held_against_the_rest_as_by_student_with_pooled_scatter() -> None:
    mu = [0.34, 0.31, 0.30, 0.32, 0.305]
    ours = first_pull(mu)
    rest = np.array(mu[1:])
    t = (mu[0] - rest.mean()) / (rest.std(ddof=1) * math.sqrt(1 + 1 / 4))
    assert ours.excess.size == pytest.approx(mu[0] - rest.mean())
    assert ours.excess.nu == 3
    assert ours.excess.size / (ours.excess.u or 1) == pytest.approx(t)
    assert ours.over_rest == pytest.approx(mu[0] / rest.mean())


def test_a_lane_without_dwells_has_its_first_pull_alone() -> None:
    series = drawn(1, 0.0, 0.02, lanes=1)
    mu = list(series[0].mu)
    both = effects_of([Series(mu, [None] * len(mu))])
    assert both.first.size == pytest.approx(first_pull(mu).excess.size)
    assert both.per_decade.lacking


@pytest.mark.parametrize("lanes", [1, 2])
@pytest.mark.parametrize("has_dwells", [True, False])
def test_first_pulls_of_one_lane_or_two_are_told_and_not_tested(
    lanes: int, has_dwells: bool
) -> None:
    """First pulls that scatter three times as much were shown in 31 of 100 trials without any."""
    draw = np.random.default_rng(7)
    series = []
    for _ in range(lanes):
        mu = 0.3 + draw.normal(0, 0.01, 5)
        dwells = draw.uniform(2, 60, 5).tolist()
        series.append(Series(mu.tolist(), dwells if has_dwells else [None] * 5))
    found = effects_of(series).first
    assert found.size is not None
    assert (found.p, found.low, found.high) == (None, None, None)
    assert "how first pulls scatter" in found.lacking


def test_both_effects_are_found_together_where_both_are_there() -> None:
    found = effects_of(drawn(2, 0.02, 0.03))
    for effect, truth in ((found.per_decade, 0.02), (found.first, 0.03)):
        assert effect.is_shown
        assert effect.low is not None
        assert effect.high is not None
        assert effect.low < truth < effect.high
    assert found.sd == pytest.approx(0.005, rel=0.5)


def test_effects_that_are_not_there_are_shown_one_time_in_twenty() -> None:
    # Two lanes: their own differences are not asked, which would err less often.
    found = [effects_of(drawn(seed, 0.0, 0.0, lanes=2)) for seed in range(600)]
    # 600 at 5 %: 30 +/- 5.3; four of these.
    assert 9 <= sum(f.per_decade.is_shown for f in found) <= 51
    many = [effects_of(drawn(seed, 0.0, 0.0, lanes=3)) for seed in range(600)]
    assert sum(f.first.is_shown for f in many) <= 51


def test_first_pulls_that_scatter_more_are_no_effect_more_than_one_time_in_twenty() -> None:
    # By the pulls' pooled scatter alone 26 of 100 were shown.
    draw = np.random.default_rng(12)
    shown = 0
    for _ in range(200):
        lanes = []
        for _ in range(4):
            mu = 0.3 + draw.normal(0, 0.01, 5)
            mu[0] += draw.normal(0, 0.03)
            lanes.append(Series(mu.tolist(), [None] * 5))
        shown += effects_of(lanes).first.is_shown
    assert shown <= 18  # 10 and less than three standard errors


def test_a_lane_that_is_pulled_over_at_several_stages_is_one_lane() -> None:
    """Zones whose first pulls lie off by something of their own, which stays through the stages."""
    draw = np.random.default_rng(13)
    shown = 0
    for _ in range(200):
        stages = []
        for zone in range(6):
            own = draw.normal(0, 0.01)
            for _ in range(4):
                mu = 0.3 + draw.normal(0, 0.01, 3)
                mu[0] += own
                stages.append(Series(mu.tolist(), [None] * 3, f"zone {zone}"))
        shown += effects_of(stages).first.is_shown
    # 10 and less than three standard errors; each stage taken for a lane showed it in 38.
    assert shown <= 18


def test_a_lane_at_one_stage_is_the_same_with_a_name_or_without() -> None:
    found = drawn(3, 0.02, 0.01)
    named = [Series(s.mu, s.dwell_s, f"zone {k}") for k, s in enumerate(found)]
    assert effects_of(named) == effects_of(found)


def test_an_effect_of_lanes_is_what_their_own_differences_say() -> None:
    mu = [[0.36, 0.31, 0.30], [0.33, 0.30, 0.31], [0.41, 0.30, 0.32]]
    first = effects_of([Series(lane, [None] * 3) for lane in mu]).first
    own = [lane[0] - (lane[1] + lane[2]) / 2 for lane in mu]
    by_hand = ttest_1samp(own, 0.0)
    assert first.size == pytest.approx(np.mean(own))
    assert first.p == pytest.approx(by_hand.pvalue)
    assert (first.low, first.high) == pytest.approx(tuple(by_hand.confidence_interval()))


def test_intervals_hold_the_truth_19_times_of_20() -> None:
    pairs = [effects_of(drawn(seed, 0.015, 0.02, lanes=2)).per_decade for seed in range(600)]
    held = sum((e.low or 0) <= 0.015 <= (e.high or 0) for e in pairs)
    assert 549 <= held <= 591
    # Of three lanes the wider of two intervals holds the truth more often.
    firsts = [effects_of(drawn(seed, 0.015, 0.02)).first for seed in range(600)]
    assert sum((e.low or 0) <= 0.02 <= (e.high or 0) for e in firsts) >= 549


def test_a_scale_of_coefficients_scales_the_effects_and_another_unit_of_time_none() -> None:
    series = drawn(4, 0.02, 0.03)
    twice = [Series([2 * m for m in s.mu], s.dwell_s) for s in series]
    minutes = [Series(s.mu, [t / 60 for t in s.dwell_s if t]) for s in series]
    one = effects_of(series)
    assert effects_of(twice).per_decade.size == pytest.approx(2 * (one.per_decade.size or 0))
    assert one.first.p is not None
    assert effects_of(twice).first.p == pytest.approx(one.first.p)
    assert effects_of(minutes).per_decade.size == pytest.approx(one.per_decade.size)


def test_the_order_of_lanes_does_not_matter_and_that_of_pulls_does() -> None:
    series = drawn(5, 0.02, 0.03)
    turned = effects_of(series[::-1])
    assert turned.first.size == pytest.approx(effects_of(series).first.size)
    backwards = [Series(s.mu[::-1], s.dwell_s[::-1]) for s in series]
    assert effects_of(backwards).first.size != pytest.approx(effects_of(series).first.size)


def test_two_dwells_give_no_fit_and_say_so() -> None:
    fit = dwell_fit([1, 10, 10, 1], [0.3, 0.31, 0.32, 0.3])
    assert fit.at_1_s is None
    assert fit.per_decade.lacking == "2 different dwells; 3 are wanted"
    with pytest.raises(ValueError, match="no fit"):
        fit.at(60)


def test_pulls_that_lie_on_a_line_have_a_growth_and_no_significance() -> None:
    fit = dwell_fit([1, 10, 100], [0.3, 0.32, 0.34])
    assert fit.per_decade.size == pytest.approx(0.02)
    assert fit.per_decade.p is None
    assert "no scatter" in fit.per_decade.lacking


def test_equal_coefficients_have_no_growth_and_no_nan() -> None:
    fit = dwell_fit([1, 10, 100, 1000], [0.25] * 4)
    assert fit.per_decade.size == 0
    assert fit.at(1e6) == pytest.approx(0.25)
    assert first_pull([0.25] * 4).excess.size == 0
    assert first_pull([0.25] * 4).over_rest == 1


@pytest.mark.parametrize("mu", [[], [0.3], [0.3, 0.31]])
def test_too_few_pulls_have_no_test_of_the_first(mu: list[float]) -> None:
    found = first_pull(mu)
    assert found.excess.p is None
    assert f"{len(mu)} pulls" in found.excess.lacking


def test_first_pulls_that_alone_stood_long_are_not_told_from_dwell() -> None:
    lanes = [Series([0.33, 0.30, 0.31], [t, 5.0, 5.0]) for t in (100.0, 100.0, 100.0)]
    found = effects_of(lanes)
    assert found.per_decade.lacking == "2 different dwells; 3 are wanted"
    assert found.first.size is not None
    varied = [Series([0.33], [100.0]), Series([0.31], [10.0]), Series([0.30], [1.0])]
    assert "between series only" in effects_of(varied).per_decade.lacking


@pytest.mark.parametrize("dwell", [0.0, -1.0, math.nan, math.inf])
def test_a_dwell_that_is_none_is_refused(dwell: float) -> None:
    with pytest.raises(ValueError, match="wanted"):
        dwell_fit([dwell, 10, 100], [0.3, 0.3, 0.3])
