"""Individuals, EWMA and CUSUM beyond the published cases, and how often they alarm in vain."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from acquire.history import constants
from acquire.history.cusum import cusum
from acquire.history.ewma import ewma
from acquire.history.individuals import Baseline, baseline, individuals
from acquire.history.lack import Lack
from acquire.history.runs import IN_USE, breaches, completing
from acquire.history.signal import CHECKS_TO_FALSE_ALARM
from tests.unit.history.points import QUIET


def settled(values: list[float], length: int = 10, floor: float = 0.0) -> Baseline:
    found = baseline(np.array(values), length, floor)
    assert isinstance(found, Baseline)
    return found


def test_the_factors_are_the_integrals_they_stand_for() -> None:
    d2 = quad(lambda x: 1 - norm.cdf(x) ** 2 - (1 - norm.cdf(x)) ** 2, -9, 9)[0]
    assert d2 == pytest.approx(constants.D2, rel=1e-9)
    mean_square = constants.D3**2 + constants.D2**2
    assert mean_square == pytest.approx(2.0)


def test_limits_come_from_the_baseline_and_not_from_what_they_judge() -> None:
    wild = [*QUIET, 50.0, -50.0]
    assert settled(wild) == settled(list(QUIET))
    chart = individuals(np.array(wild), settled(wild))
    assert len(chart.z) == len(chart.ranges) == 2
    assert chart.range_breaches.all()


def test_too_few_checks_get_no_limits() -> None:
    found = baseline(np.array(QUIET[:9]), 10, 0.1)
    assert isinstance(found, Lack)
    assert found.why.endswith("need 10 checks since the meter or the certificate last changed; "
                              "there are 9")  # fmt: skip
    assert found.next_step == "Make 1 more check; limits come by themselves"


def test_a_display_that_never_moved_has_the_scatter_its_step_hides() -> None:
    # JCGM 100:2008, F.2.2.1: u = step/sqrt(12).
    base = settled([0.3] * 10, floor=0.1 * constants.DISPLAY)
    assert (base.centre, base.is_floor) == (0.3, True)
    assert base.sigma == pytest.approx(0.1 / math.sqrt(12))
    one_step = individuals(np.array([0.3] * 10 + [0.2]), base)
    assert abs(one_step.z[0]) == pytest.approx(math.sqrt(12))


def test_equal_figures_without_a_step_have_no_limits() -> None:
    # 93.5 - 93.2 errs in its last bits; that is no scatter.
    found = baseline(np.array([93.5 - 93.2, 0.3] * 5), 10, 0.0)
    assert isinstance(found, Lack)
    assert "step of the display" in found.why


def test_a_jump_among_the_checks_that_set_the_limits_is_told() -> None:
    quiet = [*QUIET, *QUIET]
    assert settled(quiet, 20).restless == ()
    assert settled([*quiet[:5], 3.0, *quiet[5:]], 21).restless == (5, 6)


@pytest.mark.parametrize(("length", "floor"), [(7, 0.0), (10, -0.1), (10, math.nan)])
def test_a_baseline_that_cannot_be_is_refused(length: int, floor: float) -> None:
    with pytest.raises(ValueError, match="baseline of at least 8"):
        baseline(np.array(QUIET), length, floor)


def test_an_average_of_weight_one_is_the_chart_of_individuals() -> None:
    z = np.array([0.5, -3.1, 2.9, 3.1])
    chart = ewma(z, 1.0, 3.0)
    assert chart.average.tolist() == pytest.approx(z.tolist())
    assert chart.beyond.tolist() == [False, True, False, True]
    assert chart.since() == 3


def test_the_average_tells_since_when_it_is_outside() -> None:
    back = ewma(np.array([5.0, 5.0, 0.0, -20.0, 0.0, 0.0]))
    assert back.since() == 3
    assert ewma(np.array([0.0, 0.1])).since() is None
    assert ewma(np.array([])).since() is None
    assert ewma(np.array([9.0, 9.0])).since() == 0


def test_the_sums_tell_when_and_how_far_a_meter_shifted() -> None:
    chart = cusum(np.array([0.0, 0.4, -0.4, *[2.0] * 6]))
    (alarm,) = chart.alarms
    assert (alarm.began, alarm.first, alarm.last, alarm.upward) == (3, 6, 8, True)
    assert alarm.shift == pytest.approx(2.0)
    assert chart.open_alarm == alarm


def test_a_fall_is_told_by_the_lower_sum() -> None:
    chart = cusum(-np.array([2.0] * 6))
    assert [(a.upward, a.began, a.shift) for a in chart.alarms] == [(False, 0, -2.0)]


def test_an_alarm_that_is_over_is_not_open() -> None:
    chart = cusum(np.array([*[2.0] * 4, *[-1.0] * 3, 0.0]))
    assert len(chart.alarms) == 1
    assert chart.open_alarm is None
    assert cusum(np.array([])).open_alarm is None


@pytest.mark.parametrize(("weight", "width"), [(0.0, 3.0), (1.1, 3.0), (0.2, 0.0)])
def test_an_average_that_cannot_be_is_refused(weight: float, width: float) -> None:
    with pytest.raises(ValueError, match="0 < lambda"):
        ewma(np.zeros(3), weight, width)


@pytest.mark.parametrize(("k", "h"), [(-0.1, 5.0), (0.5, 0.0)])
def test_sums_that_cannot_be_are_refused(k: float, h: float) -> None:
    with pytest.raises(ValueError, match="h above 0"):
        cusum(np.zeros(3), k, h)


def first(marks: np.ndarray) -> int:
    return int(np.argmax(marks)) + 1 if marks.any() else len(marks)


# J. M. Lucas and R. B. Crosier, Technometrics 24 (1982) 199, table 1, and J. M. Lucas and
# M. S. Saccucci, Technometrics 32 (1990) 1, table 3, as quoted in the manual of a general library.
@pytest.mark.parametrize(
    ("h", "shift", "published"), [(4.0, 0.25, 74.2), (4.0, 1.0, 8.38), (5.0, 1.0, 10.4)]
)
def test_sums_run_as_long_as_published(h: float, shift: float, published: float) -> None:
    draws = np.random.default_rng(1).normal(shift, 1.0, (1500, 700))
    runs = [(a[0].first + 1) if (a := cusum(z, 0.5, h).alarms) else 700 for z in draws]
    assert np.mean(runs) == pytest.approx(published, abs=4 * np.std(runs) / math.sqrt(1500))


@pytest.mark.parametrize(
    ("weight", "width", "shift", "published"), [(0.5, 3.071, 1.0, 17.5), (0.03, 2.437, 0.5, 29.3)]
)
def test_averages_run_as_long_as_published(
    weight: float, width: float, shift: float, published: float
) -> None:
    draws = np.random.default_rng(2).normal(shift, 1.0, (1500, 300))
    charts = [ewma(z, weight, width) for z in draws]
    runs = [first(np.abs(c.average) > c.asymptote) for c in charts]
    assert np.mean(runs) == pytest.approx(published, abs=4 * np.std(runs) / math.sqrt(1500))


def test_all_charts_together_alarm_in_vain_as_often_as_said() -> None:
    draws = np.random.default_rng(3).standard_normal((1500, 900))
    runs = []
    for z in draws:
        sums = cusum(z).alarms
        ruled = min(first(completing(rule, z, IN_USE.numbers)) for rule in IN_USE.rules)
        runs.append(min(ruled, first(ewma(z).beyond), sums[0].first + 1 if sums else 900))
    assert np.mean(runs) == pytest.approx(CHECKS_TO_FALSE_ALARM, abs=12)


def test_by_limits_from_twenty_checks_half_of_steady_meters_have_alarmed_after_44_checks() -> None:
    """As the page of drifts says; 400 meters, whose middle one is then good to about 5."""
    draw = np.random.default_rng(62)
    runs = []
    for _ in range(400):
        values = draw.normal(size=20 + 200)
        z = individuals(values, settled(values.tolist(), 20)).z
        alarms = [b.completed for b in breaches(z, IN_USE)[:1]]
        alarms += np.flatnonzero(ewma(z).beyond)[:1].tolist()
        alarms += [a.first for a in cusum(z).alarms[:1]]
        runs.append(min([*alarms, 200]) + 1)
    assert 32 <= np.median(runs) <= 58
