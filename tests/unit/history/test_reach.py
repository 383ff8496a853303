"""When a line reaches a limit: dates, their intervals, and why there is none."""

from __future__ import annotations

import numpy as np
import pytest

from acquire.history.reach import Reach, Reached, reach
from acquire.history.trend import Line, ordinary

DAYS = np.arange(30.0)
SCATTER = 0.05 * np.array([1, -1, 0, 1, -1, -1, 1, 0, -1, 1] * 3)


def line(slope: float, scatter: float = 1.0) -> Line:
    fitted = ordinary(DAYS, slope * DAYS + scatter * SCATTER)
    assert isinstance(fitted, Line)
    return fitted


def of(slope: float, limit: float = 1.0, horizon: float = 1000.0) -> Reach:
    return reach(line(slope), limit, 29.0, horizon)


def test_the_dates_are_where_line_and_bands_meet_the_limit() -> None:
    # Fieller's interval by its definition: the days on which the limit lies in the band.
    found, fitted = of(0.01), line(0.01)
    assert found.state is Reached.DATED
    assert None not in found
    assert fitted.at(found.day).value == pytest.approx(1.0)
    assert fitted.at(found.earliest).line_high == pytest.approx(1.0)
    assert fitted.at(found.latest).line_low == pytest.approx(1.0)
    assert fitted.at(found.predicted).high == pytest.approx(1.0)
    assert found.predicted < found.earliest < found.day < found.latest


def test_a_fall_reaches_the_lower_limit_as_a_rise_the_upper() -> None:
    up = reach(line(0.01), 1.0, 29.0, 1000.0)
    down = reach(line(-0.01, -1.0), -1.0, 29.0, 1000.0)
    assert down[1:] == pytest.approx(up[1:])


def test_the_interval_of_the_date_holds_as_often_as_it_says() -> None:
    rng = np.random.default_rng(6)
    held = told = 0
    for _ in range(3000):
        fitted = ordinary(DAYS, 0.01 * DAYS + rng.normal(0, 0.05, 30))
        assert isinstance(fitted, Line)
        found = reach(fitted, 1.0, 0.0, 1e9)
        if found.earliest is not None and found.latest is not None:
            told += 1
            held += found.earliest <= 100 <= found.latest
    assert told == 3000
    assert held / told == pytest.approx(0.95, abs=0.016)


@pytest.mark.parametrize(
    ("checks", "slope", "least", "most"),
    [(4, 0.02, 0.85, 0.91), (6, 0.008, 0.90, 0.95), (8, 0.005, 0.92, 0.97), (10, 0.0035, 0.94, 1)],
)
def test_dates_of_drifts_that_few_checks_hardly_show_hold_as_often_as_the_page_says(
    checks: int, slope: float, least: float, most: float
) -> None:
    """Weekly checks, of which half of the histories show the drift; the day lies late if missed."""
    rng, days = np.random.default_rng(40 + checks), 7.0 * np.arange(checks)
    day = 0.8 / slope
    held = told = too_early = 0
    for _ in range(3000):
        fitted = ordinary(days, slope * days + rng.normal(0, 0.1, checks))
        assert isinstance(fitted, Line)
        found = reach(fitted, 0.8, days[-1], 4 * days[-1])
        if found.state is not Reached.DATED:
            continue
        assert found.earliest is not None
        told += 1
        too_early += found.latest is not None and found.latest < day
        held += found.earliest <= day and (found.latest is None or day <= found.latest)
    assert 900 < told < 2100
    assert least <= held / told <= most
    assert too_early > (told - held) / 2


def test_there_is_no_date_where_the_drift_is_not_resolved() -> None:
    assert of(0.0001) == Reach(1.0, Reached.UNRESOLVED)


def test_there_is_no_date_where_the_line_moves_away() -> None:
    assert of(0.01, -1.0) == Reach(-1.0, Reached.AWAY)


def test_there_is_no_date_beyond_the_horizon() -> None:
    assert of(0.01, horizon=60.0) == Reach(1.0, Reached.FAR)


def test_a_check_may_lie_beyond_within_the_horizon_where_the_line_does_not() -> None:
    found = of(0.01, horizon=98.0)
    assert (found.state, found.day, found.latest) == (Reached.FAR, None, None)
    assert found.predicted is not None


def test_the_end_of_an_interval_beyond_the_horizon_is_left_open() -> None:
    found = of(0.01, horizon=102.0)
    assert (found.state, found.latest) == (Reached.DATED, None)


def test_a_line_beyond_its_limit_has_passed_it_whichever_way_it_goes() -> None:
    for slope in (0.1, 0.0, -0.001):
        fitted = ordinary(DAYS, 2 + slope * DAYS + SCATTER)
        assert isinstance(fitted, Line)
        assert reach(fitted, 1.0, 29.0, 1000.0) == Reach(1.0, Reached.PAST, predicted=29.0)


def test_what_may_be_today_is_today() -> None:
    found = reach(line(0.01), 0.32, 29.0, 1000.0)
    assert (found.state, found.predicted) == (Reached.DATED, 29.0)


def test_a_line_that_tells_no_way_stands_where_its_checks_stand() -> None:
    # Two checks close together and a third: the slope may be anything, and so is the line later.
    fitted = ordinary(np.array([0.0, 0.01, 1.0]), np.array([0.0, 0.1, 0.2]))
    assert isinstance(fitted, Line)
    assert not fitted.is_resolved
    assert fitted.at(9.0).value > 1.0
    assert reach(fitted, 1.0, 9.0, 1000.0) == Reach(1.0, Reached.UNRESOLVED)
    assert fitted.stands(9.0).value == pytest.approx(0.1)
    assert fitted.stands(9.0).line_high == pytest.approx(fitted.at(fitted.mean_day).line_high)


def test_a_line_that_tells_its_way_stands_on_it() -> None:
    fitted = line(0.01)
    assert fitted.is_resolved
    assert fitted.stands(29.0) == fitted.at(29.0)


def test_steady_meters_are_given_a_day_as_often_as_the_page_says() -> None:
    """Checks once a week, a limit four scatters away: one in twenty at any time."""
    draw = np.random.default_rng(5)
    days = 7.0 * np.arange(12)
    dated = 0
    for _ in range(1000):
        fitted = ordinary(days, draw.normal(size=12))
        assert isinstance(fitted, Line)
        found = [reach(fitted, side * 4.0, 77.0, 77.0 + 3 * 77.0) for side in (-1, 1)]
        dated += any(r.state is Reached.DATED for r in found)
    assert 25 <= dated <= 72
