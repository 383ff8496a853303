"""How high a first peak was that fell between two samples: against pulls with a known true peak.

That a sampled peak lies low by half of what the force gains between two samples on average, within
a rectangle of that width, is JCGM 100:2008, 4.3.7 and F.2.4.5; that a known effect is corrected,
ibid. 3.2.4 and 6.3.1.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from acquire.analysis.slickness.pull import Pull
from acquire.analysis.slickness.rules import Rules
from acquire.analysis.slickness.segment import segment

Floats = NDArray[np.float64]
PEAK = 0.5
KINETIC = 0.4
WEIGHT = 1.5


class Rise(NamedTuple):
    """Seconds of a rise to the peak, whether it rounds off before the slip, and the peak's share
    of `PEAK`."""

    seconds: float
    rounds_off: bool = False
    share: float = 1.0


def pulls(
    rate: float,
    rises: list[Rise],
    noise: float,
    seed: int,
    slip_s: float = 0.02,
    rest_s: float = 2.4,
) -> list[Pull]:
    """What is found in one trace of such pulls that break away at any moment between samples."""
    draw = np.random.default_rng(seed)
    begins = np.cumsum([1.0, *(rise.seconds + 1.2 + rest_s + draw.random() for rise in rises)])
    time = np.arange(round((begins[-1] + 0.5) * rate)) / rate
    force = np.zeros(time.size)
    for begin, rise in zip(begins, rises, strict=False):
        share = (time - begin) / rise.seconds
        on_rise = (share >= 0) & (share < 1)
        force[on_rise] = (
            rise.share
            * PEAK
            * (np.sin(np.pi / 2 * share[on_rise]) if rise.rounds_off else share[on_rise])
        )
        slid = time - begin - rise.seconds
        slides = (slid >= 0) & (slid < 1.2)
        slip = np.exp(-slid[slides] / slip_s)
        force[slides] = rise.share * (KINETIC + (PEAK - KINETIC) * slip)
    found = segment(force + noise * draw.standard_normal(time.size), rate, Rules.for_weight(WEIGHT))
    assert len(found.pulls) >= 0.75 * len(rises), found.rejected
    return list(found.pulls)


def off(found: list[Pull]) -> Floats:
    return np.array([pull.peak_n / PEAK - 1 for pull in found])


@pytest.mark.parametrize(
    ("rate", "slow_s", "fast_s"),
    [
        *((rate, 0.6, 1.2) for rate in (20.0, 50.0, 100.0, 200.0, 500.0, 2000.0)),
        # Of a rise with fewer samples than four nothing can be told: see below.
        *((rate, 0.1, 0.2) for rate in (50.0, 100.0, 200.0, 500.0, 2000.0)),
    ],
)
def test_the_mean_of_pulls_is_not_low_by_what_the_force_gains_between_two_samples(
    rate: float, slow_s: float, fast_s: float
) -> None:
    draw = np.random.default_rng(round(rate))
    rises = [Rise(draw.uniform(slow_s, fast_s)) for _ in range(60)]
    gained = float(np.mean([1 / (rise.seconds * rate) for rise in rises]))
    found = pulls(rate, rises, 0.0005 * PEAK, seed=7)
    sampled = np.array([pull.peak_sample_n / PEAK - 1 for pull in found])
    assert sampled.mean() < -0.3 * gained + 0.002
    # A sixth of the step, and a third of the standard uncertainty that a single pull has of it.
    assert abs(off(found).mean()) < gained / 6 + 0.0005


@pytest.mark.parametrize("noise", [0.0, 0.001, 0.004])
@pytest.mark.parametrize("rate", [20.0, 50.0, 100.0, 300.0, 1000.0, 5000.0])
@pytest.mark.parametrize("rounds_off", [False, True])
def test_the_true_peak_lies_within_twice_the_stated_uncertainty(
    rate: float, noise: float, rounds_off: bool
) -> None:
    """Of a rise that rounds off before the slip a line along it would lie above every sample."""
    draw = np.random.default_rng(3)
    rises = [Rise(draw.uniform(0.6, 1.8), rounds_off) for _ in range(24 if rate > 900 else 60)]
    found = pulls(rate, rises, noise * PEAK, seed=11)
    held = [abs(p.peak_n - PEAK) <= 2 * np.hypot(p.u_peak_n, p.u_zero_n) for p in found]
    assert np.mean(held) >= 0.75
    # Where the noise is 0.4 % of the peak, the largest of many samples is as much above it.
    assert abs(off(found).mean()) < 0.0025 + 0.75 * noise + (0.2 / rate)


@pytest.mark.parametrize("rate", [20.0, 50.0, 100.0, 200.0])
def test_limits_of_a_mean_of_five_pulls_hold_the_true_peak(rate: float) -> None:
    """Student's, 95 %, of pulls that differ by 0.4 %. By the largest samples they hold it in 25 to
    90 of 100."""
    draw = np.random.default_rng(5)
    rises = [Rise(draw.uniform(0.6, 1.2), share=draw.normal(1, 0.004)) for _ in range(200)]
    found = off(pulls(rate, rises, 0.001 * PEAK, seed=13))
    means = found[: found.size // 5 * 5].reshape(-1, 5)
    reach = stats.t.ppf(0.975, 4) * means.std(axis=1, ddof=1) / 5**0.5
    assert np.mean(np.abs(means.mean(axis=1)) <= reach) >= 0.85


def test_a_rise_of_too_few_samples_leaves_its_peak_at_the_highest_one_and_says_so() -> None:
    found = pulls(10.0, [Rise(0.15)] * 12, 0.0005, seed=1)
    bare = [pull for pull in found if pull.between_n is None]
    assert len(bare) >= 3
    for pull in bare:
        assert pull.peak_n == pull.peak_sample_n < PEAK
        (told,) = [r for r in pull.remarks if r.startswith("Its first peak")]
        assert "above the highest sample and is not corrected for it" in told
        assert PEAK - pull.peak_n < 2 * pull.u_peak_n


def test_a_peak_from_samples_far_apart_says_what_lies_above_them_and_how_well_it_is_known() -> None:
    for pull in pulls(50.0, [Rise(0.8)] * 8, 0.0005, seed=2):
        assert pull.between_n is not None
        (told,) = pull.remarks
        assert f"lie by {pull.between_n:.2g} N" in told
        assert f"uncertainty of {pull.u_peak_n:.2g} N" in told
        step = float(told.partition("the force rose by ")[2].split()[0])
        assert step == pytest.approx(PEAK / 0.8 / 50, rel=0.2)
        # A rectangle of the step would have this standard uncertainty; the slip tells more.
        assert pull.u_peak_n < 1.2 * PEAK / 0.8 / 50 / 12**0.5
    assert not [r for p in pulls(2000.0, [Rise(0.8)] * 3, 0.0005, seed=2) for r in p.remarks]


def test_the_sled_of_a_slip_that_starts_slowly_is_not_taken_higher_than_it_was() -> None:
    """A mass on a spring: behind the breakaway the force goes on rising for a moment."""
    rate, seconds = 200.0, 0.8
    draw = np.random.default_rng(9)
    found = []
    for _ in range(30):
        begin = 1.5 + draw.random() / rate
        time = np.arange(round(5 * rate)) / rate
        fast = time - begin - seconds
        speed = PEAK / seconds
        # Critically damped (any textbook of vibrations), from the force and rate at the breakaway.
        slip = 0.02
        held = KINETIC + (
            (PEAK - KINETIC) + (speed + (PEAK - KINETIC) / slip) * np.maximum(fast, 0)
        ) * np.exp(-np.maximum(fast, 0) / slip)
        force = np.where(fast < 0, np.maximum(0, PEAK * (time - begin) / seconds), held)
        force[time > 4.2] = 0.0
        top = speed * slip / (speed + (PEAK - KINETIC) / slip)
        true = KINETIC + ((PEAK - KINETIC) + (speed + (PEAK - KINETIC) / slip) * top) * np.exp(
            -top / slip
        )
        noisy = force + 0.0003 * draw.standard_normal(time.size)
        (pull,) = segment(noisy, rate, Rules.for_weight(WEIGHT)).pulls
        found.append(pull.peak_n / true - 1)
    assert abs(float(np.mean(found))) < 0.0015


@pytest.mark.parametrize("rate", [10.0, 20.0, 50.0])
def test_a_slow_gauge_keeps_its_noise_and_its_pulls_however_many_there_are_in_a_trace(
    rate: float,
) -> None:
    """Every stretch of 64 of its samples held a slip, which passed for noise."""
    draw = np.random.default_rng(17)
    rises = [Rise(draw.uniform(0.6, 1.2)) for _ in range(20)]
    found = pulls(rate, rises, 0.001 * PEAK, seed=19, rest_s=1.0)
    assert len(found) == 20
    assert all(pull.u_zero_n < 0.002 * PEAK for pull in found)
