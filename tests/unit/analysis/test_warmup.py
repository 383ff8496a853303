"""When an instrument is warm: curves of known time constant, steady readings, and too few."""

from __future__ import annotations

import math

import numpy as np
import pytest

from acquire.analysis.studies.warmup import WarmUp, warm_up_of
from acquire.study.words import drift_lines
from tests.unit.analysis.bench import has_nan

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


def too_short(readings: int, size: float, constant_s: float, studies: int) -> tuple[int, int]:
    """How many studies named a time, and of these how many one by which over half was left."""
    rng = np.random.default_rng(93)
    t = 60.0 * np.arange(readings)
    named = short = 0
    for _ in range(studies):
        y = 92 + SD * (size * np.exp(-t / constant_s) + rng.standard_normal(readings))
        warm = warm_up_of(t.tolist(), y.tolist())
        if warm.warm_up_s is not None and warm.curve is not None:
            named += 1
            short += size * math.exp(-warm.warm_up_s / constant_s) > 0.5
    return named, short


@pytest.mark.parametrize(("readings", "constant_s"), [(40, 300.0), (40, 600.0), (90, 600.0)])
def test_not_more_than_5_of_100_studies_give_a_time_that_is_too_short(
    readings: int, constant_s: float
) -> None:
    """Of forty minutes, a drift of five scatters with 10 minutes takes 27 to sink below a third."""
    _, short = too_short(readings, 5, constant_s, 100)
    assert short <= 8  # 4 at most as drawn longer, two standard errors; by the best curve up to 27


def test_twenty_readings_of_a_drift_name_no_time_and_say_how_many_would() -> None:
    assert too_short(20, 5, 300.0, 60) == (0, 0)
    found = warm_up_of(MINUTES[:20], [92 - 5 * math.exp(-k / 5) + k % 2 / 10 for k in range(20)])
    assert found.curve is not None
    assert found.curve is not None
    assert list(drift_lines(found, " GU"))[1:] == [
        "  NOT REACHED: 20 readings do not tell when the drift ends; 30 are wanted"
    ]


def two_parts(seed: int, second: float) -> WarmUp:
    """90 minutes of a drift of 10 scatters and 2 minutes, beside a part of 20 minutes."""
    rng = np.random.default_rng(seed)
    t = 60.0 * np.arange(90)
    y = 92 + SD * (10 * np.exp(-t / 120) + second * np.exp(-t / 1200) + rng.standard_normal(90))
    return warm_up_of(t.tolist(), y.tolist())


def test_a_drift_of_two_parts_is_found_and_then_no_time_is_named() -> None:
    found = [two_parts(seed, 4.0) for seed in range(40)]
    assert sum(w.has_second for w in found) >= 38
    assert all(w.warm_up_s is None for w in found if w.has_second)
    lines = "\n".join(drift_lines(found[0], " GU"))
    assert "NOT TOLD: the drift is not one exponential approach to a level (p " in lines
    assert "WARM" not in lines


def test_one_part_is_taken_for_two_by_5_of_100_at_most_and_the_course_is_said() -> None:
    found = [two_parts(seed, 0.0) for seed in range(100)]
    assert sum(w.has_second for w in found) <= 9  # 5 and two standard errors
    warm = next(w for w in found if w.is_reached)
    lines = "\n".join(drift_lines(warm, " GU"))
    assert "this takes the drift for one exponential approach to a level" in lines
    assert "a second one is not shown in it, p = 0." in lines
    assert "the level may still have moved by 0." in lines


def test_what_the_level_may_still_have_moved_holds_what_it_did() -> None:
    """Of a slow part that no study can tell from a quick one's end, too."""
    t, missed, told = 60.0 * np.arange(60), 0, 0
    for seed in range(60):
        rng = np.random.default_rng(seed)
        course = SD * (5 * np.exp(-t / 180) + 3 * np.exp(-t / 900))
        warm = warm_up_of(t.tolist(), (92 + course + SD * rng.standard_normal(60)).tolist())
        if warm.rest is not None and warm.ready_s is not None:
            told += 1
            rest = course[int(np.searchsorted(t, warm.ready_s))] - course[-1]
            missed += bool(rest > warm.rest)
    assert told >= 30
    assert missed <= 0.1 * told


def test_steps_of_the_display_that_hide_the_scatter_make_no_second_part() -> None:
    for seed in range(20):
        rng = np.random.default_rng(seed)
        y = 92 + 2 * np.exp(-np.array(MINUTES) / 300) + 0.02 * rng.standard_normal(60)
        warm = warm_up_of(MINUTES, np.round(y, 1).tolist(), 0.1)
        assert warm.p_second is None
        assert warm.rest is None
        if warm.is_reached:
            assert "steps of the display hide" in "\n".join(drift_lines(warm, " GU"))


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
