"""The outlook of one history, and that poor data get an answer too."""

from __future__ import annotations

import math

import pytest

from acquire.history.charting import Charting
from acquire.history.individuals import Baseline
from acquire.history.lack import Lack
from acquire.history.outlook import Control, Outlook, outlook
from acquire.history.point import Point
from acquire.history.reach import Reached
from acquire.history.trend import Line
from tests.unit.history.points import QUIET, day_ns, points

CHARTING = Charting(resolution=0.1, baseline=10)
STEADY = [*QUIET, *QUIET, *QUIET]
RISING = [*QUIET, *(x + 0.02 * i for i, x in enumerate([*QUIET, *QUIET]))]


def seen(given: list[Point], today: float | None = None, **changes: float) -> Outlook:
    last = max((p.at_ns for p in given), default=day_ns(0))
    now_ns = last if today is None else day_ns(today)
    return outlook(given, limit=1.0, now_ns=now_ns, charting=CHARTING, **changes)


def test_a_meter_that_stands_still_is_in_control_and_has_no_date() -> None:
    found = seen(points(STEADY))
    assert (found.control, found.since_ns, found.is_near) == (Control.IN, None, False)
    assert found.days_left is None
    assert {r.state for r in found.reaches} == {Reached.UNRESOLVED}


def test_a_shift_is_told_with_the_day_it_began() -> None:
    found = seen(points([*STEADY, *(x + 0.2 for x in QUIET)]))
    assert found.control is Control.OUT
    assert found.since_ns == day_ns(30)
    assert found.charts is not None
    assert {s.by for s in found.charts.signals} >= {"EWMA", "CUSUM"}


def test_a_single_stray_check_is_forgotten_after_some_good_ones() -> None:
    stray = [*STEADY, 0.5]
    assert seen(points(stray)).control is Control.OUT
    after = seen(points([*stray, *[0.0, -0.1] * 5]))
    assert after.control is Control.IN
    assert after.charts is not None
    assert [b.points for b in after.charts.breaches] == [(20,)]


def test_a_drift_is_told_before_the_limit_is_reached() -> None:
    found = seen(points(RISING))
    assert found.control is Control.OUT
    assert found.upper is not None
    assert found.upper.state is Reached.DATED
    assert found.lower is not None
    assert found.lower.state is Reached.AWAY
    assert found.days_left is not None
    assert found.checks_left == int(found.days_left)


def test_days_are_counted_from_now_and_checks_by_the_usual_time_between_them() -> None:
    given = points(RISING, [3 * i for i in range(30)])
    last, later = seen(given, 87), seen(given, 90)
    assert last.days_left is not None
    assert later.days_left == pytest.approx(last.days_left - 3)
    assert last.checks_left == int(last.days_left / 3)


def test_few_checks_left_are_near_even_when_the_days_are_many() -> None:
    found = seen(points(RISING, [30 * i for i in range(30)]), guard=0.3)
    assert found.days_left is not None
    assert found.checks_left is not None
    assert found.days_left > CHARTING.early_days
    assert found.checks_left < CHARTING.early_checks
    assert found.is_near


def test_many_days_and_checks_left_are_not_near() -> None:
    found = seen(points(RISING, [3 * i for i in range(30)]))
    assert found.checks_left is not None
    assert found.checks_left >= CHARTING.early_checks
    assert not found.is_near


def test_the_guard_band_brings_the_day_nearer() -> None:
    plain, guarded = seen(points(RISING)), seen(points(RISING), guard=0.2)
    assert guarded.edge == pytest.approx(0.8)
    assert plain.days_left is not None
    assert guarded.days_left is not None
    assert guarded.days_left < plain.days_left


def test_a_guard_as_wide_as_the_limit_leaves_no_day() -> None:
    found = seen(points(STEADY), guard=1.0)
    assert (found.edge, found.reaches, found.days_left, found.is_near) == (0.0, (), 0.0, True)


def test_a_readjustment_starts_afresh() -> None:
    given = points([*RISING, *QUIET[:5]])
    given[30] = given[30]._replace(was_readjusted=True)
    found = seen(given)
    assert (found.control, found.charts) == (Control.UNKNOWN, None)
    assert isinstance(found.baseline, Lack)
    assert found.current is not None
    assert (found.current.start, len(found.current)) == (30, 5)
    assert isinstance(found.line, Line)
    assert found.line.count == 5


def test_the_line_takes_the_last_part_of_a_long_segment() -> None:
    given = points([*STEADY, *STEADY], [*range(30), *range(500, 530)])
    line = seen(given).line
    assert isinstance(line, Line)
    assert (line.count, line.first_day) == (30, 500)


def test_a_line_looks_no_further_ahead_than_it_looked_back() -> None:
    # 0.005 a day over 30 days: 1.0 is some 170 days off, three spans are 87.
    slow = seen(points([x + 0.005 * i for i, x in enumerate(STEADY)]))
    assert slow.upper is not None
    assert (slow.upper.state, slow.upper.day) == (Reached.FAR, None)


def test_a_line_says_nothing_of_today_long_after_its_last_check() -> None:
    # Seen over three minutes, asked three spans later, and then after the night.
    minutes = points([0.0, 0.1, 0.2, 0.3], [i / 1440 for i in range(4)])
    trusted, after = (seen(minutes, today=at / 1440) for at in (12.0, 600.0))
    assert isinstance(trusted.line, Line)
    assert isinstance(after.line, Lack)
    assert after.line.why == (
        "The checks since the meter or the certificate last changed lie within less than an hour, "
        "too short a time to say anything of today"
    )
    assert (after.reaches, after.days_left, after.is_near) == ((), None, False)


def test_a_clock_behind_the_last_check_counts_from_that_check() -> None:
    assert seen(points(RISING), 2).days_left == seen(points(RISING)).days_left


def test_the_line_can_be_weighted() -> None:
    found = outlook(
        points(RISING),
        limit=1.0,
        now_ns=day_ns(30),
        charting=Charting(resolution=0.1, baseline=10, is_weighted=True),
    )
    assert isinstance(found.line, Line)
    assert found.line.is_weighted


@pytest.mark.parametrize(
    ("given", "control"),
    [
        ([], Control.UNKNOWN),
        (points([0.1]), Control.UNKNOWN),
        (points([math.nan]), Control.UNKNOWN),
        (points([0.1] * 10), Control.UNKNOWN),
        (points([0.1] * 30), Control.IN),
        (points(STEADY, [0.0] * 30), Control.IN),
        (points(STEADY, [*range(29), 4000]), Control.IN),
    ],
    ids=["none", "one", "no figure", "baseline only", "all equal", "one moment", "a huge gap"],
)
def test_poor_data_get_an_answer(given: list[Point], control: Control) -> None:
    found = seen(given)
    assert found.control is control
    assert found.is_near is False


def test_a_display_that_never_moves_has_the_scatter_of_its_step() -> None:
    base = seen(points([0.1] * 30)).baseline
    assert isinstance(base, Baseline)
    assert base.is_floor


@pytest.mark.parametrize(("limit", "guard"), [(0.0, 0.0), (1.0, -0.1), (math.nan, 0.0)])
def test_a_limit_that_cannot_be_is_refused(limit: float, guard: float) -> None:
    with pytest.raises(ValueError, match="a limit above 0"):
        outlook([], limit=limit, now_ns=0, guard=guard)


def test_all_faults_of_the_settings_are_told_at_once() -> None:
    with pytest.raises(ValueError, match=r"baseline: got 3.*recent: got 0"):
        Charting(baseline=3, recent=0)
