"""Traces by hand: what is a pull, what is none, and traces that tell nothing."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from acquire.analysis.slickness.pull import Segmented, Why
from acquire.analysis.slickness.rules import Rules, Window
from acquire.analysis.slickness.segment import segment
from acquire.analysis.slickness.steady import steady_of

RATE = 1000.0
WEIGHT = 0.2 * 9.80665
RULES = Rules.for_weight(WEIGHT)
Floats = NDArray[np.float64]


def rest(seconds: float, level: float = 0.0) -> Floats:
    return np.full(round(seconds * RATE), level)


def ramp(start: float, end: float, seconds: float) -> Floats:
    return np.linspace(start, end, round(seconds * RATE), endpoint=False)


def pull(peak: float = 0.7, kinetic: float = 0.5, slide: float = 1.5) -> Floats:
    return np.concatenate(
        (ramp(0, peak, 0.4), ramp(peak, kinetic, 0.03), rest(slide, kinetic), ramp(kinetic, 0, 0.1))
    )


def seen(*parts: Floats, noise: float = 0.001, rules: Rules = RULES) -> Segmented:
    force = np.concatenate(parts)
    return segment(
        force + noise * np.random.default_rng(1).standard_normal(force.size), RATE, rules
    )


def test_a_pull_has_its_zero_peak_steady_window_and_moments() -> None:
    found = seen(rest(1) + 0.03, pull() + 0.03, rest(1) + 0.03)
    (one,) = found.pulls
    assert one.zero_n == pytest.approx(0.03, abs=1e-3)
    assert one.onset_s == pytest.approx(1.0, abs=0.05)
    assert one.peak_s == pytest.approx(1.4, abs=0.005)
    assert one.peak_n == pytest.approx(0.7, rel=0.005)
    assert one.steady.mean_n == pytest.approx(0.5, rel=0.002)
    assert not one.steady.slips
    assert one.dwell_s is None
    assert found.rejected == ()


def test_the_dwell_is_since_the_sled_last_moved_whatever_knocked_or_was_tried_between() -> None:
    knock = np.concatenate((rest(1), rest(0.02, 0.4), rest(1)))
    tried = np.concatenate((ramp(0, 0.4, 0.3), ramp(0.4, 0, 0.05)))
    found = seen(rest(1), pull(), knock, tried, rest(1), pull(), rest(1))
    first, second = found.pulls
    assert [r.why for r in found.rejected] == [Why.KNOCK, Why.SHORT]
    assert all(r.because.endswith(".") for r in found.rejected)
    assert second.dwell_s == pytest.approx(second.onset_s - first.slid_until_s)
    assert second.dwell_s == pytest.approx(3.5, abs=0.25)
    assert second.contact_s == pytest.approx(second.dwell_s + 0.4, abs=0.05)


def test_a_later_stick_peak_is_the_largest_and_not_the_static_one() -> None:
    slips = np.concatenate(
        [np.concatenate((ramp(0.4, top, 0.15), ramp(top, 0.4, 0.02))) for top in (0.74, 0.8, 0.72)]
    )
    found = seen(
        rest(1), ramp(0, 0.7, 0.4), ramp(0.7, 0.4, 0.02), slips, ramp(0.4, 0, 0.1), rest(1)
    )
    (one,) = found.pulls
    assert one.peak_n == pytest.approx(0.7, rel=0.005)
    assert one.largest_n == pytest.approx(0.8, rel=0.01)
    assert one.steady.slips
    assert "first one is static" in one.remarks[0]


def test_a_zero_that_wanders_is_taken_where_the_line_is_slack() -> None:
    parts = (rest(3), pull(), rest(4), pull(), rest(3))
    force = np.concatenate(parts)
    drift = np.linspace(0.05, 0.06, force.size)
    found = segment(force + drift, RATE, RULES)
    assert [p.peak_n for p in found.pulls] == pytest.approx([0.7, 0.7], rel=0.002)
    assert found.pulls[0].zero_n < found.pulls[1].zero_n


def test_a_line_held_between_two_pulls_parts_them_and_is_told() -> None:
    held = np.concatenate((pull()[:-100], ramp(0.5, 0.15, 0.1), rest(1, 0.15)))
    again = np.concatenate((ramp(0.15, 0.65, 0.3), pull(0.65)[400:]))
    found = seen(rest(1), held, again, rest(1))
    assert [p.peak_n for p in found.pulls] == pytest.approx([0.7, 0.65], rel=0.005)
    assert "held at 0.15 N" in found.pulls[1].remarks[0]


def test_a_peak_that_the_range_cut_off_is_rejected_and_not_guessed() -> None:
    force = np.minimum(np.concatenate((rest(1), pull(), rest(1))), 0.62)
    found = segment(force, RATE, Rules.for_weight(WEIGHT, range_n=0.62))
    assert found.pulls == ()
    assert found.rejected[0].why is Why.SATURATED
    assert found.rejected[0].moved


def test_a_force_that_rises_and_stays_is_not_taken_for_a_slide() -> None:
    found = seen(rest(1), ramp(0, 0.5, 0.4), rest(1, 0.5), ramp(0.5, 0, 0.1), rest(1))
    assert [r.why for r in found.rejected] == [Why.HELD]


def test_a_pull_that_began_before_the_trace_is_rejected() -> None:
    found = seen(pull()[300:], rest(1), pull(), rest(1))
    assert [r.why for r in found.rejected] == [Why.CUT]
    assert len(found.pulls) == 1


def test_the_window_of_a_standard_is_taken_in_millimetres() -> None:
    window = Window(skip_mm=6, length_mm=60, speed_mm_per_s=100 / 6)
    rules = Rules.for_weight(WEIGHT, window=window)
    found = seen(rest(1), pull(slide=4.5), rest(1), pull(slide=2), rest(1), rules=rules)
    (one,) = found.pulls
    assert one.steady.start_s - one.peak_s == pytest.approx(0.36, abs=0.002)
    assert one.steady.end_s - one.steady.start_s == pytest.approx(3.6, abs=0.002)
    assert [r.why for r in found.rejected] == [Why.NARROW]
    assert "pull farther" in found.rejected[0].because


@pytest.mark.parametrize("scale", [0.01, 3.0, 100.0])
def test_twice_the_sled_and_twice_the_force_are_the_same_pulls(scale: float) -> None:
    force = np.concatenate((rest(1), pull(), rest(2), pull(0.65, 0.45), rest(1)))
    force += 0.001 * np.random.default_rng(2).standard_normal(force.size)
    one = segment(force, RATE, RULES)
    other = segment(scale * force, RATE, Rules.for_weight(scale * WEIGHT))
    assert [p.peak_n * scale for p in one.pulls] == pytest.approx([p.peak_n for p in other.pulls])
    assert [p.onset_s for p in one.pulls] == [p.onset_s for p in other.pulls]


def test_an_offset_of_the_gauge_changes_nothing_but_the_zero() -> None:
    force = np.concatenate((rest(1), pull(), rest(1)))
    force += 0.001 * np.random.default_rng(2).standard_normal(force.size)
    one, other = segment(force, RATE, RULES), segment(force - 3, RATE, RULES)
    assert one.pulls[0].peak_n == pytest.approx(other.pulls[0].peak_n, abs=1e-9)
    assert other.pulls[0].zero_n == pytest.approx(one.pulls[0].zero_n - 3)


def test_traces_that_tell_nothing_say_why() -> None:
    assert "less than 1 s" in segment([], RATE, RULES).refusal
    assert "less than 1 s" in segment([0.1] * 10, RATE, RULES).refusal
    wild = np.random.default_rng(3).uniform(0, 1, 5000)
    assert segment(np.sin(np.arange(5000) / 30), RATE, RULES).refusal
    assert segment(wild, RATE, RULES).pulls == ()
    still = segment(np.full(5000, 0.4), RATE, RULES)
    assert (still.refusal, still.pulls, still.rejected) == ("", (), ())


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_a_value_that_is_none_is_refused_with_its_place(bad: float) -> None:
    force = np.zeros(3000)
    force[1234] = bad
    with pytest.raises(ValueError, match="sample 1234"):
        segment(force, RATE, RULES)


@pytest.mark.parametrize("rate", [9.9, 10_001, np.nan])
def test_rates_outside_the_range_are_refused(rate: float) -> None:
    with pytest.raises(ValueError, match="samples a second"):
        segment(np.zeros(100_000), rate, RULES)


def test_an_empty_window_is_refused_and_a_single_sample_has_no_scatter() -> None:
    at = np.arange(5, dtype=float)
    with pytest.raises(ValueError, match="no sample"):
        steady_of(at, at, 10, 20, 0)
    assert steady_of(at, at, 2, 2, 0).sd_n is None
    assert steady_of(at * 0 + 0.1, at, 0, 4, 0).sd_n == 0


@pytest.mark.parametrize("rate", [100.0, 500.0, 2000.0])
def test_noise_on_a_slow_rise_is_never_taken_for_the_first_peak(rate: float) -> None:
    """By drawing: of such pulls some in a hundred would have a peak that is a quarter too low.

    The truth is the peak of the line; it is known to a few times the noise of 3 % of it.
    """
    source = np.random.default_rng(4)
    weight, peak, kinetic, noise = 2.0, 0.8, 0.52, 0.024
    slide = np.arange(1, round(2 * rate)) / rate
    whole = np.concatenate(
        (
            np.zeros(round(rate)),
            np.linspace(0, peak, round(1.5 * rate)),
            kinetic + (peak - kinetic) * np.exp(-slide / 0.05),
            np.linspace(kinetic, 0, round(0.1 * rate)),
            np.zeros(round(rate)),
        )
    )
    peaks = []
    for _ in range(60):
        force = whole + noise * source.standard_normal(whole.size)
        found = segment(force, rate, Rules.for_weight(weight))
        assert len(found.pulls) <= 1
        peaks += [pull.peak_n for pull in found.pulls]
    assert len(peaks) >= 59
    assert min(peaks) > 0.9 * peak


@pytest.mark.parametrize("rise_s", [0.06, 0.1, 0.3])
@pytest.mark.parametrize("share", [0.04, 0.06, 0.3])
def test_a_small_first_peak_of_a_fast_rise_is_found_with_its_height(
    rise_s: float, share: float
) -> None:
    slide = np.arange(1, round(2 * RATE)) / RATE
    peak = 0.5 * (1 + share)
    found = seen(
        rest(1.5), ramp(0, peak, rise_s), 0.5 + (peak - 0.5) * np.exp(-slide / 0.02),
        ramp(0.5, 0, 0.1), rest(1),
    )  # fmt: skip
    (one,) = found.pulls
    # A gauge of so many samples a second knows a cusp to what the rise gains between two.
    assert one.peak_n == pytest.approx(peak, abs=peak / (rise_s * RATE) + 0.002)


@pytest.mark.parametrize("rise_s", [0.03, 0.06, 0.1, 0.5, 4.0])
@pytest.mark.parametrize("noise", [0.0005, 0.002, 0.01])
def test_a_rise_of_any_speed_without_a_first_peak_is_no_pull(rise_s: float, noise: float) -> None:
    found = seen(
        rest(1.5), ramp(0, 0.5, rise_s), rest(2, 0.5), ramp(0.5, 0, 0.1), rest(1), noise=noise
    )
    assert [r.why for r in found.rejected] == [Why.HELD]
    assert found.pulls == ()


@pytest.mark.parametrize("struck_n", [0.0, 0.25, -0.25])
@pytest.mark.parametrize("noise", [0.001, 0.009])
def test_a_line_that_is_held_with_a_hand_that_trembles_is_no_pull(
    struck_n: float, noise: float
) -> None:
    """By 1.5 % of the force at some hertz, with a knock or none, by a gauge with noise."""
    knock = np.concatenate(
        (rest(0.6), struck_n * np.sin(np.pi * np.arange(45) / 45), rest(0.6)[45:])
    )
    for hertz in (4.0, 6.5, 9.0, 11.0):
        for phase in (0.0, 1.5, 3.0, 4.5):
            held = np.concatenate((rest(1), ramp(0, 0.45, 0.3), 0.45 + knock, ramp(0.45, 0, 0.05)))
            swings = np.sin(2 * np.pi * hertz * np.arange(held.size) / RATE + phase)
            found = seen(held * (1 + 0.015 * swings), rest(1), noise=noise)
            assert found.pulls == ()


def test_a_knock_behind_the_first_peak_does_not_make_it_smaller_or_larger() -> None:
    slide = rest(1, 0.5)
    slide[500:560] += 0.4 * np.sin(np.pi * np.arange(60) / 60)
    found = seen(
        rest(1), ramp(0, 0.52, 0.3), ramp(0.52, 0.5, 0.02), slide, ramp(0.5, 0, 0.1), rest(1)
    )
    (one,) = found.pulls
    assert one.peak_n == pytest.approx(0.52, rel=0.005)
