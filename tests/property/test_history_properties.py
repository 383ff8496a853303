"""What must hold for the history of checks whatever the checks were."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acquire.history.charting import Charting
from acquire.history.cusum import cusum
from acquire.history.outlook import Outlook, outlook
from acquire.history.point import Point
from acquire.history.runs import Numbers, Rule, RuleSet, breaches, completing
from acquire.history.segments import segments
from acquire.history.series import Series
from acquire.history.warnings import dated, warnings

DAY_NS = 86_400 * 10**9

shown = st.integers(-30, 30).map(lambda v: v / 10)
"""Deviations as a display gives them."""
strange = st.one_of(
    shown, st.floats(allow_nan=True, allow_infinity=True), st.floats(-1e-300, 1e-300)
)
moments = st.one_of(
    st.integers(0, 400).map(lambda d: d * DAY_NS), st.integers(0, 3), st.integers(0, 10**18)
)


@st.composite
def points(draw: st.DrawFn, figures: st.SearchStrategy[float] = shown) -> Point:
    return Point(
        draw(moments),
        draw(figures),
        draw(st.sampled_from([0.0, 0.03, 1.0])),
        draw(st.integers(1, 99)),
        draw(st.sampled_from(["c1", "c1", "c1", "c2"])),
        "gloss_unit",
        draw(st.integers(0, 15)) == 0,
        draw(st.sampled_from([93.2, 93.2, 93.3, None])),
        0.2,
    )


chartings = st.builds(
    Charting,
    resolution=st.sampled_from([0.0, 0.1]),
    baseline=st.just(8),
    is_weighted=st.booleans(),
    rules=st.just(RuleSet("all", tuple(Rule), Numbers(), 0.0)),
)


def numbers_in(thing: Any) -> list[float]:
    """Every float in a result, however deep."""
    if isinstance(thing, float):
        return [thing]
    if isinstance(thing, np.ndarray):
        return [float(x) for x in thing.ravel()]
    if dataclasses.is_dataclass(thing):
        return [n for f in dataclasses.fields(thing) for n in numbers_in(getattr(thing, f.name))]
    if isinstance(thing, tuple | list):
        return [n for part in thing for n in numbers_in(part)]
    return []


def looked(given_: list[Point], charting: Charting, now_ns: int = 500 * DAY_NS) -> Outlook:
    return outlook(given_, limit=0.8, now_ns=now_ns, guard=0.1, charting=charting)


@settings(max_examples=300, deadline=None)
@given(st.lists(points(strange), max_size=40), chartings)
def test_there_is_always_an_answer_and_never_nan(checks: list[Point], charting: Charting) -> None:
    found = looked(checks, charting)
    assert not [n for n in numbers_in(found) if math.isnan(n)]
    words = [text for w in warnings(found, charting) for text in w[1:]]
    words += [dated(found, r) for r in found.reaches]
    assert not [w for w in words if "nan" in w.split() or "inf" in w.split()]


@settings(max_examples=100, deadline=None)
@given(st.lists(points(), max_size=40), chartings)
def test_segments_hold_every_point_once_and_in_order(
    checks: list[Point], charting: Charting
) -> None:
    series = Series.of(checks)
    places = [i for s in segments(series) for i in range(s.start, s.stop)]
    assert places == list(range(len(series)))


@settings(max_examples=100, deadline=None)
@given(st.lists(shown, min_size=9, max_size=40), chartings)
def test_later_checks_never_move_the_limits(figures: list[float], charting: Charting) -> None:
    checks = [Point(i * DAY_NS, x, 0.03, i, "c1", "gloss_unit") for i, x in enumerate(figures)]
    assert looked(checks, charting).baseline == looked(checks[:8], charting).baseline


@settings(max_examples=100, deadline=None)
@given(st.lists(shown, min_size=9, max_size=40))
def test_a_mirrored_history_has_mirrored_dates(figures: list[float]) -> None:
    charting = Charting(resolution=0.1, baseline=8)
    checks = [Point(i * DAY_NS, x, 0.03, i, "c1", "gloss_unit") for i, x in enumerate(figures)]
    now_ns = len(checks) * DAY_NS
    there = looked(checks, charting, now_ns)
    back = looked([p._replace(deviation=-p.deviation) for p in checks], charting, now_ns)
    assert (there.control, there.since_ns) == (back.control, back.since_ns)
    assert there.days_left == back.days_left
    for one, other in ((there.upper, back.lower), (there.lower, back.upper)):
        assert one is not None
        assert other is not None
        assert one[1:] == other[1:]


@settings(max_examples=200, deadline=None)
@given(st.lists(st.floats(-4, 4), max_size=60), st.sampled_from(Rule))
def test_a_breach_names_points_that_are_there_and_ends_where_it_is_complete(
    z: list[float], rule: Rule
) -> None:
    done = completing(rule, np.array(z), Numbers())
    found = breaches(np.array(z), RuleSet("one", (rule,), Numbers(), 0.0))
    assert {i for b in found for i in range(b.completed, b.last + 1)} == set(np.flatnonzero(done))
    for breach in found:
        assert breach.points == tuple(sorted(set(breach.points)))
        assert 0 <= breach.points[0] <= breach.completed
        assert breach.points[-1] == breach.last


@settings(max_examples=200, deadline=None)
@given(st.lists(st.floats(-4, 4), max_size=60))
def test_sums_are_those_of_their_recursion(z: list[float]) -> None:
    chart = cusum(np.array(z))
    high = low = 0.0
    for i, x in enumerate(z):
        high, low = max(0.0, high + x - 0.5), max(0.0, low - x - 0.5)
        assert (chart.upper[i], chart.lower[i]) == pytest.approx((high, low), abs=1e-9)
