"""Knocks while the line is held, pulled or sliding, and first peaks between two samples."""

from __future__ import annotations

import re

import numpy as np
import pytest
from numpy.typing import NDArray

from acquire.analysis.slickness.pull import Pull, Segmented, Why
from acquire.analysis.slickness.rules import Rules
from acquire.analysis.slickness.segment import segment

WEIGHT = 2.0
Floats = NDArray[np.float64]


def line(rate: float, *points: tuple[float, float]) -> Floats:
    """Forces along straight lines from point to point, each a moment (s) and a force (N)."""
    at, force = zip(*points, strict=True)
    forces: Floats = np.interp(np.arange(0, at[-1], 1 / rate), at, force)
    return forces


def half_wave(force: Floats, rate: float, at_s: float, length_s: float, size_n: float) -> Floats:
    count = max(1, round(length_s * rate))
    struck = force.copy()
    first = round(at_s * rate)
    struck[first : first + count] += size_n * np.sin(np.pi * (np.arange(count) + 0.5) / count)
    return struck


def ring(force: Floats, rate: float, at_s: float, size_n: float, hz: float) -> Floats:
    """A ring that begins with all of its size and dies out."""
    struck = force.copy()
    first = round(at_s * rate)
    t = np.arange(min(round(0.1 * rate), force.size - first)) / rate
    struck[first : first + t.size] += size_n * np.exp(-t / 0.025) * np.cos(2 * np.pi * hz * t)
    return struck


def seen(force: Floats, rate: float, seed: int = 1) -> Segmented:
    noise = 0.001 * np.random.default_rng(seed).standard_normal(force.size)
    return segment(force + noise, rate, Rules.for_weight(WEIGHT))


def held(rate: float) -> Floats:
    """The line is pulled to 0.3 N, held for 3.2 s, and let go; the sled never moves."""
    return line(rate, (0, 0), (2, 0), (2.4, 0.3), (5.6, 0.3), (6, 0), (8, 0))


def pull(rate: float, peak: float = 0.5, kinetic: float = 0.3) -> Floats:
    """A rise of 0.8 s that breaks away at 2.8 s and slides until 5 s."""
    return line(
        rate, (0, 0), (2, 0), (2.8, peak), (2.83, kinetic), (5, kinetic), (5.1, 0), (7, 0)
    )  # fmt: skip


def the_pull(found: Segmented) -> Pull:
    assert len(found.pulls) == 1, [r.because for r in found.rejected]
    return found.pulls[0]


@pytest.mark.parametrize("rate", [50.0, 1000.0, 8000.0])
@pytest.mark.parametrize(
    ("length_s", "size_n"),
    [(0.02, 0.17), (0.04, 0.17), (0.06, 0.17), (0.02, 0.5), (0.06, 0.5), (0.04, 1), (0.03, -0.5)],
)
def test_a_knock_on_a_line_that_is_held_makes_no_pull(
    rate: float, length_s: float, size_n: float
) -> None:
    for at_s in (2.7, 3.333, 4.9):
        found = seen(half_wave(held(rate), rate, at_s, length_s, size_n), rate)
        assert found.pulls == ()
        assert [r.why for r in found.rejected] == [Why.HELD]


@pytest.mark.parametrize("rate", [120.0, 1000.0, 4000.0])
@pytest.mark.parametrize("rise_s", [0.07, 0.4])
@pytest.mark.parametrize(
    ("first_s", "first_n", "second_s", "second_n"),
    [(0.03, 0.1, 0.056, 0.07), (0.05, 0.44, 0.028, 0.14), (0.05, 0.025, 0.055, -0.6)],
)
def test_two_knocks_near_one_another_on_a_line_that_is_held_make_no_pull(
    rate: float, rise_s: float, first_s: float, first_n: float, second_s: float, second_n: float
) -> None:
    """The one is neither part of the line that the other leaves nor of where it comes back to."""
    still = line(rate, (0, 0), (2, 0), (2 + rise_s, 0.3), (5.6, 0.3), (6, 0), (8, 0))
    for apart_s in (0.06, 0.075, 0.09):
        struck = half_wave(still, rate, 4.0, first_s, first_n)
        found = seen(half_wave(struck, rate, 4.0 + apart_s, second_s, second_n), rate)
        assert found.pulls == ()
        assert [r.why for r in found.rejected] == [Why.HELD]


def test_two_samples_of_a_slow_gauge_that_a_knock_threw_up_and_down_make_no_pull() -> None:
    """At 13.5 samples a second the line had been held for four of them."""
    still = line(13.5, (0, 0), (2, 0), (4, 1.25), (5.2, 1.25), (5.21, 0), (8, 0))
    struck = still.copy()
    struck[58] += 0.132
    struck[60] -= 0.208
    found = seen(struck, 13.5)
    assert found.pulls == ()


@pytest.mark.parametrize("size_n", [0.1, 0.17, 0.3, 1.0])
def test_a_knock_in_a_slide_without_a_first_peak_is_not_its_breakaway(size_n: float) -> None:
    slide = pull(1000, peak=0.3)
    found = seen(half_wave(slide, 1000, 4.2, 0.04, size_n), 1000)
    assert found.pulls == ()
    (none,) = found.rejected
    assert none.why is Why.HELD
    assert "rose to 0.3 N and stayed" in none.because
    assert "A knock at 4.2" in none.because


def test_the_first_peak_stands_whatever_knocks_while_the_sled_slides() -> None:
    for size_n in (0.1, 0.3, 1.0):
        one = the_pull(seen(half_wave(pull(1000, 0.315), 1000, 4.2, 0.04, size_n), 1000))
        assert one.peak_s == pytest.approx(2.8, abs=0.01)
        assert one.peak_n == pytest.approx(0.315, rel=0.005)


@pytest.mark.parametrize("rate", [200.0, 1000.0, 8000.0])
@pytest.mark.parametrize("size_n", [0.1, 0.3, 1.0, -0.15, -0.6])
def test_a_knock_while_the_sled_slides_is_told_and_not_in_the_kinetic_mean(
    rate: float, size_n: float
) -> None:
    """By arithmetic 1 N for 0.04 s would add 1 N * 0.04 s * 2/pi over 2 s, 4 % of the mean."""
    for at_s in (3.1, 4.2, 4.85):
        one = the_pull(seen(half_wave(pull(rate), rate, at_s, 0.04, size_n), rate))
        assert one.steady.mean_n == pytest.approx(0.3, abs=0.0005)
        assert one.steady.peak_to_peak_n < 0.02
        (told,) = [r for r in one.remarks if not r.startswith("Its first peak is taken")]
        assert re.fullmatch(r"A knock at (3\.1|4\.2|4\.8)\d s is left out\.", told)


def sawtooth(rate: float, rise_s: float, low: float = 0.24, high: float = 0.36) -> Floats:
    """A pull that sticks for `rise_s` and slips, over and over, with 0.3 N in the mean."""
    points: list[tuple[float, float]] = [(0, 0), (2, 0), (2.8, 0.5), (2.83, low)]
    while points[-1][0] + rise_s + 0.02 < 5:
        at = points[-1][0]
        points += [(at + rise_s, high), (at + rise_s + 0.02, low)]
    end = points[-1][0]
    return line(rate, *points, (end + 0.1, 0), (end + 2, 0))


@pytest.mark.parametrize("rise_s", [0.1, 0.192, 0.4])
def test_a_sled_that_sticks_and_slips_is_not_taken_for_knocked(rise_s: float) -> None:
    """At the pull's own rate, 0.12 N in 0.192 s, at twice that and at half of it."""
    one = the_pull(seen(sawtooth(1000, rise_s), 1000))
    assert one.steady.mean_n == pytest.approx(0.3, rel=0.02)
    assert not any("knock" in remark for remark in one.remarks)


def test_a_hand_that_pulls_faster_while_the_sled_slides_has_all_of_it_in_the_mean() -> None:
    one = the_pull(seen(sawtooth(1000, 0.04), 1000))
    assert one.steady.mean_n == pytest.approx(0.3, rel=0.02)
    assert any("by a knock, or a hand that pulled faster" in remark for remark in one.remarks)
    assert not any("left out" in remark for remark in one.remarks)


def test_a_knock_among_slips_as_large_is_told_whether_it_can_be_left_out_or_not() -> None:
    force = sawtooth(1000, 0.1)
    left = 0
    for at_s in np.arange(3.9, 4.03, 0.02):
        for size_n in (0.1, -0.1, 0.3):
            one = the_pull(seen(half_wave(force, 1000, float(at_s), 0.03, size_n), 1000))
            assert one.steady.mean_n == pytest.approx(0.3, abs=0.003)
            (told,) = one.remarks
            stays = "of its slide the force rose faster" in told
            assert stays or told.endswith("is left out.")
            assert float(told.split(" at " if not stays else "At ")[1].split()[0]) == pytest.approx(
                at_s + 0.015, abs=0.03
            )
            left += stays
    assert 0 < left < 10


@pytest.mark.parametrize("rate", [200.0, 1000.0, 8000.0])
@pytest.mark.parametrize("size_n", [0.05, 0.3, 1.0, -0.15, -0.6])
@pytest.mark.parametrize("at_s", [2.3, 2.52, 2.6, 2.69])
def test_a_knock_on_the_flank_of_the_rise_leaves_the_peak_as_it_is(
    rate: float, size_n: float, at_s: float
) -> None:
    one = the_pull(seen(half_wave(pull(rate), rate, at_s, 0.03, size_n), rate))
    assert one.peak_s == pytest.approx(2.8, abs=2 / rate + 0.003)
    assert one.peak_n == pytest.approx(0.5, abs=0.0025 + 0.63 / rate)


@pytest.mark.parametrize("rate", [1000.0, 4000.0])
@pytest.mark.parametrize(
    ("size_n", "hz"), [(0.9, 40), (-0.5, 40), (-0.9, 40), (-1.3, 40), (-2, 60)]
)
@pytest.mark.parametrize("at_s", [3.2, 3.3])
def test_a_ring_on_the_way_to_the_peak_is_left_out_whichever_way_it_begins(
    rate: float, size_n: float, hz: float, at_s: float
) -> None:
    force = line(
        rate, (0, 0), (2, 0), (4, 1.1), (4.05, 0.7), (6.5, 0.7), (6.6, 0), (8, 0)
    )  # fmt: skip
    one = the_pull(seen(ring(force, rate, at_s, size_n, hz), rate))
    assert one.peak_s == pytest.approx(4.0, abs=2 / rate + 0.003)
    assert one.peak_n == pytest.approx(1.1, rel=0.005)
    assert any(re.fullmatch(r"A knock at 3\.\d+ s is left out\.", r) for r in one.remarks)


@pytest.mark.parametrize("rate", [500.0, 1000.0, 8000.0])
@pytest.mark.parametrize("size_n", [-0.2, -0.45, -0.8])
def test_a_force_that_is_thrown_back_up_was_knocked_down_though_the_hand_slowed(
    rate: float, size_n: float
) -> None:
    """From 2.1 to 0.4 N/s: the force behind the knock lies far below the line before it."""
    force = line(
        rate, (0, 0), (2, 0), (2.2, 0.42), (2.31, 0.464), (2.34, 0.3), (4, 0.3), (4.1, 0), (6, 0)
    )  # fmt: skip
    one = the_pull(seen(half_wave(force, rate, 2.2, 0.04, size_n), rate))
    assert one.peak_s == pytest.approx(2.31, abs=2 / rate + 0.003)
    assert one.peak_n == pytest.approx(0.464, rel=0.01)


@pytest.mark.parametrize("rate", [500.0, 1000.0, 8000.0])
def test_a_knock_beside_the_first_peak_leaves_it_in_doubt_and_one_further_off_does_not(
    rate: float,
) -> None:
    doubt = "A knock fell so near its first peak that it may have made it higher or lower"
    for at_s, size_n, is_near in (
        (2.76, 0.3, True), (2.775, 0.1, True), (2.74, -0.3, True), (2.6, 0.3, False),
        (2.6, -0.3, False), (3.4, 0.3, False),
    ):  # fmt: skip
        found = seen(half_wave(pull(rate), rate, at_s, 0.03, size_n), rate)
        told = [r for p in found.pulls for r in p.remarks] + [r.because for r in found.rejected]
        assert any(r.startswith(doubt) or "fell on its first" in r for r in told) is is_near
    assert not any(r.startswith(doubt) for r in the_pull(seen(pull(rate), rate)).remarks)


def test_what_was_left_out_on_the_way_to_the_peak_is_told_with_its_moment() -> None:
    once = half_wave(pull(1000), 1000, 2.6, 0.03, 0.5)
    twice = half_wave(once, 1000, 2.42, 0.03, 0.7)
    (one,) = the_pull(seen(once, 1000)).remarks
    (two,) = the_pull(seen(twice, 1000)).remarks
    assert re.fullmatch(r"A knock at 2\.6[12] s is left out\.", one)
    assert re.fullmatch(r"Knocks at 2\.4[34] s and 2\.6[12] s are left out\.", two)
    assert the_pull(seen(pull(1000), 1000)).remarks == ()
    # One so early that nobody could take it for the breakaway is nothing to tell of.
    assert the_pull(seen(half_wave(pull(1000), 1000, 2.1, 0.03, 0.7), 1000)).remarks == ()


@pytest.mark.parametrize("rate", [100.0, 1000.0, 10_000.0])
def test_single_samples_that_stand_alone_make_no_peak(rate: float) -> None:
    force = pull(rate)
    for at_s, size_n in ((2.45, 0.8), (2.7, 0.1), (2.75, -0.4), (4.0, 0.6)):
        force[round(at_s * rate)] += size_n
    one = the_pull(seen(force, rate))
    assert one.peak_s == pytest.approx(2.8, abs=0.011)
    assert one.peak_n == pytest.approx(0.5, abs=0.0025 + 0.63 / rate)


@pytest.mark.parametrize("stood_at", [0.2, 0.27, 0.36, 0.45])
def test_a_hand_that_paused_on_the_rise_and_then_pulled_on_made_a_pull(stood_at: float) -> None:
    """The force is lower behind the peak than it stood before, or higher: the sled moved."""
    force = line(
        1000, (0, 0), (2, 0), (2.4, stood_at), (4, stood_at), (4 + (0.5 - stood_at), 0.5),
        (4.03 + (0.5 - stood_at), 0.3), (7, 0.3), (7.1, 0), (9, 0),
    )  # fmt: skip
    one = the_pull(seen(force, 1000))
    assert one.peak_n == pytest.approx(0.5, rel=0.005)


def test_a_rise_of_twenty_seconds_is_found_with_its_peak() -> None:
    force = line(100, (0, 0), (2, 0), (22, 0.7), (22.05, 0.5), (23.6, 0.5), (23.7, 0), (26, 0))
    one = the_pull(seen(force, 100))
    assert one.peak_n == pytest.approx(0.7, rel=0.005)
    assert one.steady.mean_n == pytest.approx(0.5, rel=0.005)


def test_what_rises_after_it_stood_at_the_same_level_for_a_second_is_no_first_peak() -> None:
    """It may be a sticky place of a slide, or a held line that was pulled: force does not tell."""
    force = line(
        1000, (0, 0), (2, 0), (2.4, 0.3), (4, 0.3), (4.15, 0.33), (4.3, 0.3), (5, 0.3), (5.1, 0),
        (7, 0),
    )  # fmt: skip
    found = seen(force, 1000)
    assert found.pulls == ()
    assert [r.why for r in found.rejected] == [Why.HELD]


@pytest.mark.parametrize("phase", [0.1, 0.35, 0.6, 0.85])
def test_at_too_low_a_rate_the_result_says_how_well_the_peak_between_its_samples_is_known(
    phase: float,
) -> None:
    """A sampled cusp is known to a part of what its rise gains between two samples.

    A rectangle of that width has the standard uncertainty of its share of the root of twelve.
    """
    for rate, coarse in ((50.0, True), (100.0, True), (8000.0, False)):
        force = pull(8000)[round(phase * 8000 / rate) :: round(8000 / rate)]
        one = the_pull(seen(force, rate))
        gained = 0.5 / 0.8 / rate
        said = [r for r in one.remarks if r.startswith("Its first peak is taken to lie by ")]
        assert len(said) == coarse
        assert abs(0.5 - one.peak_n) < 0.6 * gained + 0.004
        assert abs(0.5 - one.peak_n) < 2 * one.u_peak_n
        if said:
            assert 0.3 * gained / 12**0.5 < one.u_peak_n < 1.2 * gained / 12**0.5 + 0.001
            told = float(said[0].partition("the force rose by ")[2].split()[0])
            assert told == pytest.approx(gained, rel=0.35)
