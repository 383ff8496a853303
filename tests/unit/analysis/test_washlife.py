"""The wash life of one treatment: words, exact limits of the share alive, nothing invented."""

from __future__ import annotations

import numpy as np
import pytest

from acquire.analysis.durability.life import Life
from acquire.analysis.durability.washlife import share_alive, wash_life


def test_one_specimen_has_its_own_life_and_no_more() -> None:
    assert wash_life([Life(10, 15)]).words == "One specimen: 10 to 15 washes."
    assert wash_life([Life(30)]).words == "One specimen: at least 30 washes."


def test_several_have_a_middle_life_that_stays_an_interval() -> None:
    found = wash_life([Life(5, 10), Life(10, 15), Life(30)])
    assert found.words == (
        "The middle life of 3 specimens: 10 to 15 washes, 1 of them had not failed."
    )
    assert found.exact is None
    late = wash_life([Life(5, 10), Life(30), Life(30)])
    assert "at least 30 washes" in late.words


def test_no_failure_says_how_many_may_fail_all_the_same() -> None:
    found = wash_life([Life(40), Life(30), Life(30), Life(30), Life(50)])
    assert found.survived == 30
    # 1 - 0.05^(1/5): Clopper and Pearson, closed form.
    assert found.none_failed.upper == pytest.approx(0.45071973)
    assert "up to 30 washes: at least that; up to 45 %" in found.words


def test_lives_known_to_the_wash_have_a_product_limit_too() -> None:
    found = wash_life([Life(9, 10), Life(19, 20), Life(30)])
    assert found.exact is not None
    assert found.exact.median == 20
    assert found.estimate.median == Life(19, 20)


def test_the_unknown_widen_the_limits_of_the_share_alive_on_both_sides() -> None:
    lives = [Life(5, 10), Life(20, 25), Life(10, 20), Life(8), Life(30)]
    at = share_alive(lives, 15)
    assert (at.alive, at.gone, at.unknown) == (2, 1, 2)
    every = share_alive([Life(5, 10), Life(20, 25), Life(15, 20), Life(15), Life(30)], 15)
    none = share_alive([Life(5, 10), Life(20, 25), Life(10, 15), Life(10, 15), Life(30)], 15)
    assert at.low == none.low
    assert at.high == every.high


def test_the_limits_hold_the_true_share_nineteen_times_of_twenty_or_more() -> None:
    source = np.random.default_rng(6)
    held = 0
    for _ in range(1000):
        ends = np.minimum(source.geometric(0.06, 5) // 5 * 5, 60).tolist()
        at = share_alive([Life(e, e + 5) for e in ends], 10)
        held += at.low <= 0.94**9 <= at.high  # a life passes 10 where its wash is 10 or later
    assert held / 1000 >= 0.95


def test_a_treatment_without_specimens_is_refused() -> None:
    with pytest.raises(ValueError, match="got none"):
        wash_life([])
    with pytest.raises(ValueError, match="got none"):
        share_alive([], 5)
