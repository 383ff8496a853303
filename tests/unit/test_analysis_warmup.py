"""When an instrument is warm: curves of known time constant, steady readings, and too few."""

from __future__ import annotations

import math

import numpy as np
import pytest

from acquire.analysis.warmup import WarmUp, warm_up_of
from tests.unit.analysis_bench import has_nan

SD = 0.1
MINUTES = [60.0 * k for k in range(60)]


def course(seed: int, size: float, constant_s: float, *, slope: float = 0.0) -> WarmUp:
    """An hour of readings, one a minute, that approach 92 GU; rounded to 0.1 GU."""
    rng = np.random.default_rng(seed)
    t = np.array(MINUTES)
    y = 92 + size * np.exp(-t / constant_s) + slope * t + SD * rng.standard_normal(len(t))
    return warm_up_of(MINUTES, np.round(y, 1).tolist(), 0.1)


@pytest.mark.parametrize(("size", "constant_s"), [(-2.0, 300.0), (-2.0, 600.0), (1.5, 400.0)])
def test_the_time_is_found_within_a_few_minutes(size: float, constant_s: float) -> None:
    # What is left of the drift is then a third of the scatter.
    true_s = constant_s * math.log(abs(size) / (SD / 3))
    found = [course(seed, size, constant_s) for seed in range(60)]
    ready = [w.ready_s for w in found if w.ready_s is not None]
    assert len(ready) >= 55
    assert float(np.median(ready)) == pytest.approx(true_s, rel=0.1)
    for warm in found:
        if warm.ready_s is not None:
            assert warm.warm_up_s is not None
            assert warm.warm_up_s % 60 == 0
            assert 0 <= warm.warm_up_s - warm.ready_s < 60


def test_a_study_that_hardly_lasts_long_enough_gives_no_time_that_is_too_short() -> None:
    """Forty minutes of a drift of five scatters that takes 27 minutes to sink below a third."""
    rng = np.random.default_rng(93)
    too_short = 0
    for _ in range(100):
        t = 60.0 * np.arange(40)
        y = 92 + SD * (5 * np.exp(-t / 600) + rng.standard_normal(40))
        warm = warm_up_of(t.tolist(), y.tolist())
        if warm.warm_up_s is not None:
            too_short += 5 * math.exp(-warm.warm_up_s / 600) > 0.5
    assert too_short <= 12  # 6 and three standard errors; by the best curve alone it was 27


def test_a_meter_that_does_not_drift_is_ready_at_once() -> None:
    found = [course(seed, 0.0, 600.0) for seed in range(200)]
    assert sum(w.curve is None and w.warm_up_s == 0 for w in found) >= 196


@pytest.mark.parametrize(("size", "constant_s"), [(-2.0, 1800.0), (-3.0, 6000.0)])
def test_an_hour_that_does_not_see_the_end_of_the_drift_is_not_reached(
    size: float, constant_s: float
) -> None:
    for seed in range(20):
        warm = course(seed, size, constant_s)
        assert not warm.is_reached
        assert warm.warm_up_s is None
        assert warm.lacking == ""


def test_a_steady_creep_is_never_called_warm() -> None:
    assert not any(course(seed, 0.0, 600.0, slope=3e-4).is_reached for seed in range(20))


@pytest.mark.parametrize("count", [0, 1, 2, 11])
def test_too_few_readings_are_told_and_judged_by_nothing(count: int) -> None:
    warm = warm_up_of(MINUTES[:count], [90.0 + k for k in range(count)])
    assert not warm.is_reached
    assert "12 are wanted" in warm.lacking
    assert not has_nan(warm)


def test_equal_readings_show_no_drift_and_readings_of_one_moment_nothing() -> None:
    still = warm_up_of(MINUTES, [92.0] * 60, 0.1)
    assert (still.warm_up_s, still.sd) == (0, 0.0)
    crowded = warm_up_of([5.0] * 20, [92.0 + k % 3 for k in range(20)])
    assert "too few moments" in crowded.lacking


def test_a_curve_without_scatter_does_not_fail_and_a_few_minutes_say_nothing() -> None:
    quick = warm_up_of([t / 10 for t in MINUTES], [92.0, 92.1] * 30)
    assert "lasted 354 s; 600 s or more are wanted" in quick.lacking
    exact = [92 - 2 * math.exp(-t / 300) for t in MINUTES]
    warm = warm_up_of(MINUTES, exact, 0.1)
    assert warm.curve is not None
    assert warm.curve.constant_s == pytest.approx(300, rel=1e-3)
    assert not has_nan(warm)
    assert not has_nan(warm_up_of(MINUTES, exact))


def test_a_first_reading_far_off_long_after_switch_on_overflows_nothing() -> None:
    t = [1e6 + 60 * k for k in range(20)]
    warm = warm_up_of(t, [50.0] + [92.0, 92.1] * 9 + [92.0], 0.1)
    assert not has_nan(warm)


def test_lists_of_different_length_are_refused() -> None:
    with pytest.raises(ValueError, match="as many times"):
        warm_up_of([1.0], [])


@pytest.mark.parametrize("readings", [12, 20, 30, 60])
def test_a_drift_as_large_as_is_said_is_shown_by_most_studies(readings: int) -> None:
    draw = np.random.default_rng(5)
    times = np.arange(readings) * 60.0
    shown = 0
    for _ in range(60):
        steady = warm_up_of(times.tolist(), draw.normal(50, 1, readings).tolist())
        curve = steady.unseen * np.exp(-times / 600)
        found = warm_up_of(times.tolist(), (50 + curve + draw.normal(0, 1, readings)).tolist())
        shown += found.curve is not None
    assert shown >= 43  # 86 of 100 or more, with three standard errors
