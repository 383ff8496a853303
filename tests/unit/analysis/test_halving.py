"""When half of a gain is gone, by zones that differ: what few of them tell holds for any course."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import takewhile

import numpy as np
import pytest
from scipy import stats

from acquire.analysis.durability.wearing import Wear
from tests.unit.wash_bench import COUNTS, STAGES, only, readings_of, washed

_TO_40 = (*STAGES, "wash-40")


def _worn(draw: np.random.Generator, zones: int, apart: float) -> dict[str, list[float]]:
    """Zones with a half-life of 8 washes that wear each in its own way."""
    gains = [3 * 0.5 ** (n / 8) for n in (0, 5, 10, 20)]
    levels = {}
    for name, gain in (("control", [0.0] * 4), ("wax", gains)):
        for k in range(zones):
            own = [g + 80 + float(draw.normal(0, apart)) for g in gain]
            levels[f"{name}{k}"] = [80.0, *own]
    return levels


def test_a_half_life_of_several_zones_is_as_sure_as_they_agree() -> None:
    # By the readings' scatter alone the interval held the true half-life in half of such trials.
    draw = np.random.default_rng(2)
    fits = [
        only(washed(readings_of(_worn(draw, 3, 0.1), source=draw), resolution=0.1)).wear
        for _ in range(4)
    ]
    assert all(w.is_of_zones for w in fits)
    held = [
        (w.fit.low is None or w.fit.low <= 8) and (w.fit.high is None or w.fit.high >= 8)
        for w in fits
        if w.fit is not None
    ]
    assert held == [True] * 4
    assert sum(w.fit is not None and w.fit.is_resolved for w in fits) >= 3


def test_a_half_life_of_zones_ends_where_lines_between_counts_surely_pass_one_half() -> None:
    # By hand: at the upper limit the straight line between 5 and 10 washes lies one half of the
    # first gain high but for t of the zones' own spread of it, at 2.5 %; at the lower one the line
    # of 0 and 5 washes carried on, at 5 %. For each zone by itself, the control being still.
    draw = np.random.default_rng(9)
    levels = _worn(draw, 4, 0.1)
    for name in levels:
        if name.startswith("control"):
            levels[name] = [80.0, 80.0, 80.0, 80.0, 80.0]
    fit = only(washed(readings_of(levels))).wear.fit
    assert fit is not None
    assert fit.is_resolved
    rows = np.array([row for name, row in levels.items() if name.startswith("wax")])
    gains = rows[:, 1:] - rows[:, :1]

    def parts(one: int, other: int, count: float, level: float) -> float:
        n = (0, 5, 10, 20)
        part = (count - n[one]) / (n[other] - n[one])
        sums = (1 - part) * gains[:, one] + part * gains[:, other] - gains[:, 0] / 2
        return float(sums.mean() / (sums.std(ddof=1) / 2) / stats.t.ppf(1 - level / 2, 3))

    assert fit.low is not None
    assert fit.high is not None
    assert parts(1, 2, fit.high, 0.025) == pytest.approx(-1.0, rel=0.01)
    assert parts(0, 1, fit.low, 0.05) == pytest.approx(1.0, rel=0.01)
    assert 5 < fit.low < 8 < fit.high < 10


@pytest.mark.parametrize("zones", [2, 3])
@pytest.mark.parametrize(
    ("kept", "half"),
    [
        (lambda n: 0.3 + 0.7 * 0.5 ** (n / 5), 9.0),
        (lambda n: 0.4 + 0.6 * 0.5 ** (n / 8), 20.7),
        (lambda n: 0.4 * 0.5 ** (n / 3) + 0.6 * 0.5 ** (n / 30), 10.75),
        (lambda n: max(0.0, 1 - n / 40), 20.0),
        (lambda n: float(n < 14), 14.0),
        (lambda n: 1 / (1 + (n / 25) ** 4), 25.0),
    ],
    ids=["a plateau", "a high plateau", "two phases", "a line", "at once", "late"],
)
def test_no_half_life_is_told_that_another_course_than_the_exponential_makes_false(
    kept: Callable[[float], float], half: float, zones: int
) -> None:
    """Of drawn plateaus 23 of 30 half-lives that two zones told were false."""
    draw = np.random.default_rng(zones)
    bounded = false = 0
    for _ in range(12):
        levels = {}
        for name, gain in (("control", 0.0), ("wax", 4.0), ("oil", 4.0)):
            for k in range(zones):
                own = [0.0, *(gain * kept(n) for n in (0, 5, 10, 20, 40))]
                levels[f"{name}{k}"] = [80 + g + float(draw.normal(0, 0.05)) for g in own]
        found = washed(
            {(z, s): list(draw.normal(v, 0.15, 5)) for z, r in levels.items()
             for s, v in zip(_TO_40, r, strict=True)},
            counts=(*COUNTS, ("wash-40", 40)), stages=_TO_40, resolution=0.1,
        )  # fmt: skip
        assert found is not None
        for fit in [t.wear.fit for t in found.treatments]:
            assert fit is not None
            low, high = fit.low or 0.0, math.inf if fit.high is None else fit.high
            bounded += fit.low is not None or fit.high is not None
            false += not low <= half <= high
    assert bounded > 12
    # Of 24 at 95 % chance lets two or more be false in three of ten draws, four in three of 100.
    assert false <= 2


def test_exponential_half_lives_of_two_zones_each_are_still_told() -> None:
    draw = np.random.default_rng(3)
    told = 0
    for _ in range(6):
        levels = _worn(draw, 2, 0.05) | {f"oil{k}": [80.0, *row] for k, row in enumerate(
            (80 + 4 * 0.5 ** (np.array([0, 5, 10, 20]) / 12) + draw.normal(0, 0.05, 4)).tolist()
            for _ in range(2)
        )}  # fmt: skip
        found = washed(readings_of(levels, source=draw), resolution=0.1)
        assert found is not None
        for t, half in zip(found.treatments, (8, 12), strict=True):
            fit = t.wear.fit
            assert fit is not None
            if fit.is_resolved and fit.low is not None and fit.high is not None:
                told += 1
                assert fit.low < half < fit.high
                assert "by what was kept, if it fell ever more slowly or evenly" in fit.words
    assert told >= 9


def test_where_the_means_bend_the_other_way_the_counts_are_the_limits() -> None:
    # 95 % left at 5 washes and 70 % at 10: carried on, or drawn through, nothing holds.
    levels = {f"control{k}": [80.0] * 5 for k in range(3)}
    levels |= {f"wax{k}": [80.0, 90 + e, 89.5, 87.0 - e, 80.3] for k, e in enumerate((0, 0.1, 0.2))}
    fit = only(washed(readings_of(levels))).wear.fit
    assert fit is not None
    assert (fit.low, fit.high) == (10.0, 20.0)
    assert "no exponential course describes the means of the zones" in fit.words
    assert "between 10 washes, where more than half of the gain was surely left" in fit.words
    assert "and 20 washes, where less was" in fit.words


def worn(draw: np.random.Generator, spread: float, steps: float | np.ndarray = 0.0) -> Wear:
    """The first product's course in a drawn trial of a half-life of four washes, two zones each.

    `spread` is that of zones from stage to stage, `steps` what all of them do alike.
    """
    levels = {}
    for name, half, gain in (("control", 1.0, 0.0), ("wax", 4.0, 2.5), ("oil", 40.0, 3.3)):
        for k in range(2):
            gains = [0.0, *(gain * 0.5 ** (n / half) for n in (0, 5, 10))]
            own = draw.normal() + steps + draw.normal(0, spread, 4)
            levels[f"{name}{k}"] = [80 + float(o + g) for o, g in zip(own, gains, strict=True)]
    readings = readings_of(levels, (-0.3, 0.15, 0.0, -0.15, 0.3), draw)
    return only(washed(readings, counts=COUNTS[:2], stages=STAGES[:4], resolution=0.1)).wear


@pytest.mark.parametrize("spread", [0.05, 0.1])
def test_no_half_life_is_left_that_what_was_kept_beside_it_rules_out(spread: float) -> None:
    """Of drawn trials half of those that told one told of some that would have kept far more."""
    draw = np.random.default_rng(19)
    bounded = 0
    for _ in range(12):
        steps = np.concatenate([[0.0], np.cumsum(draw.normal(0, 0.3, 3))])
        wear = worn(draw, spread, steps)
        if wear.fit is None or not wear.kept:
            continue
        for look, kept in wear.kept:
            assert kept.low is not None
            assert kept.high is not None
            if kept.high < 0.5 and wear.fit.low is not None:
                assert wear.fit.low < look.washes
            if kept.low > 0.5 and wear.fit.high is not None:
                assert wear.fit.high > look.washes
        bounded += wear.fit.high is not None
        assert (wear.fit.low or 0.0) <= 4.0
        assert wear.fit.high is None or wear.fit.high >= 4.0
    assert bounded > 6


@pytest.mark.parametrize("spread", [0.1, 0.4])
def test_what_is_not_resolved_is_bounded_just_where_the_shares_beside_it_pass_one_half(
    spread: float,
) -> None:
    """A stricter level than theirs left open in half of drawn trials what a share had said."""
    draw = np.random.default_rng(11)
    bounded = 0
    for _ in range(20):
        wear = worn(draw, spread)
        if wear.fit is None or wear.fit.is_resolved:
            continue
        shares = [(look.washes, kept.low or 0.0, kept.high or 9.0) for look, kept in wear.kept]
        left = [n for n, _, _ in takewhile(lambda x: x[1] > 0.5, shares)]
        gone = [n for n, _, _ in takewhile(lambda x: x[2] < 0.5, reversed(shares))]
        assert wear.fit.low == (left[-1] if left else None)
        assert wear.fit.high == (gone[-1] if gone else None)
        bounded += bool(left or gone)
    assert bounded > 2
