"""Chances of places: closed forms against draws, ties, and errors that products share."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from acquire.analysis.places.drawing import drawn_chances
from acquire.analysis.places.ranking import (
    chance_ahead,
    chances_of_known,
    independent_chances,
    places,
)

VALUES, US = (90.0, 89.0, 90.5, 87.0), (1.0, 2.0, 0.3, 0.5)


def test_two_products_are_the_normal_law_or_students_of_their_difference() -> None:
    assert chance_ahead(0.5, 0.4) == pytest.approx(float(stats.norm.cdf(1.25)))
    assert chance_ahead(-0.5, 0.4, 3.0) == pytest.approx(float(stats.t.cdf(-1.25, 3)))
    both = independent_chances([90.5, 90.0], [0.3, math.sqrt(0.07)])
    assert both.first[0] == pytest.approx(chance_ahead(0.5, 0.4))


def test_equal_figures_are_a_coin_and_known_ones_a_certainty() -> None:
    assert chance_ahead(0.0, 0.0) == chance_ahead(0.0, 1.0) == 0.5
    assert (chance_ahead(0.1, 0.0), chance_ahead(-0.1, 0.0)) == (1.0, 0.0)


@pytest.mark.parametrize("nus", [None, (3.0, math.inf, 5.0, 2.0)])
def test_integrals_and_draws_agree(nus: tuple[float, ...] | None) -> None:
    exact = independent_chances(VALUES, US, nus)
    own = [[(u, nu)] for u, nu in zip(US, nus or (math.inf,) * 4, strict=True)]
    drawn = drawn_chances(VALUES, own)
    assert np.array(drawn.by_place) == pytest.approx(np.array(exact.by_place), abs=5 * drawn.error)
    for chances in (exact, drawn):
        table = np.array(chances.by_place)
        assert table.sum(axis=0) == pytest.approx(np.ones(4), abs=1e-9)
        assert table.sum(axis=1) == pytest.approx(np.ones(4), abs=1e-9)
    assert sum(exact.expected_place) == pytest.approx(10.0)


def test_the_same_question_gets_the_same_digits() -> None:
    own = [[(u, 4.0)] for u in US]
    assert drawn_chances(VALUES, own) == drawn_chances(VALUES, own)
    assert drawn_chances(VALUES, own) != drawn_chances(VALUES, own, seed=7)


def test_an_error_that_all_share_alike_changes_no_chance() -> None:
    own = [[(u, math.inf)] for u in US]
    alone = drawn_chances(VALUES, own)
    with_control = drawn_chances(VALUES, own, np.full((4, 4), 25.0).tolist())
    assert np.array(with_control.by_place) == pytest.approx(np.array(alone.by_place), abs=0.01)


def test_correlation_of_two_products_enters_as_in_the_closed_form() -> None:
    # A check that both share in part: u 0.5 each, correlation 0.8; own scatter 0.2 each.
    common = [[0.25, 0.2], [0.2, 0.25]]
    drawn = drawn_chances([90.2, 90.0], [[(0.2, math.inf)]] * 2, common)
    u = math.sqrt(2 * 0.2**2 + 0.25 + 0.25 - 2 * 0.2)
    assert drawn.first[0] == pytest.approx(chance_ahead(0.2, u), abs=5 * drawn.error)


def test_a_shift_or_another_unit_changes_no_chance() -> None:
    base = np.array(independent_chances(VALUES, US).by_place)
    moved = independent_chances([v + 1e6 for v in VALUES], US)
    scaled = independent_chances([1000 * v for v in VALUES], [1000 * u for u in US])
    assert np.array(moved.by_place) == pytest.approx(base, abs=1e-7)
    assert np.array(scaled.by_place) == pytest.approx(base, abs=1e-12)


def test_the_order_of_products_does_not_matter() -> None:
    base = independent_chances(VALUES, US)
    turned = independent_chances(VALUES[::-1], US[::-1])
    assert np.array(turned.by_place[::-1]) == pytest.approx(np.array(base.by_place))


def test_known_equal_values_share_their_places() -> None:
    found = chances_of_known([3.0, 5.0, 5.0])
    assert found.by_place == ((0.0, 0.0, 1.0), (0.5, 0.5, 0.0), (0.5, 0.5, 0.0))
    assert found.shared_first == (0.0, 0.5, 0.5)


def test_points_in_whole_steps_may_truly_be_equal() -> None:
    own = [[(0.2, math.inf)]] * 2
    fine, coarse = (drawn_chances([5.0, 5.1], own, step=step) for step in (0.0, 1.0))
    assert fine.shared_first == (0.0, 0.0)
    # Both are 5 whenever both lie between 4.5 and 5.5.
    inside = [float(stats.norm.cdf(5.5, m, 0.2) - stats.norm.cdf(4.5, m, 0.2)) for m in (5.0, 5.1)]
    assert 2 * coarse.shared_first[0] == pytest.approx(inside[0] * inside[1], abs=0.01)
    assert sum(coarse.first) == pytest.approx(1.0)


def test_places_run_from_those_ahead_to_those_behind_and_overlaps_are_ties() -> None:
    # 0 is ahead of 2 and 3, 1 of 3 alone.
    found = places(4, [(0, 2), (0, 3), (1, 3)])
    assert found.best == (1, 1, 2, 3)
    assert found.worst == (2, 3, 4, 4)
    assert found.tied_first == (0, 1)
    assert found.text(0) == "1 to 2, tied"
    alone = places(3, [(0, 1), (0, 2), (1, 2)])
    assert [alone.text(i) for i in range(3)] == ["1", "2", "3"]
    assert alone.is_tied == (False, False, False)
    assert places(3, []).tied_first == (0, 1, 2)


def test_what_no_errors_can_be_is_refused() -> None:
    with pytest.raises(ValueError, match="both be ahead"):
        places(2, [(0, 1), (1, 0)])
    with pytest.raises(ValueError, match="counted from 0"):
        places(2, [(0, 2)])
    with pytest.raises(ValueError, match="above zero"):
        independent_chances([1.0, 2.0], [0.0, 1.0])
    with pytest.raises(ValueError, match="2 or more"):
        independent_chances([1.0], [1.0])
    with pytest.raises(ValueError, match="finite"):
        chance_ahead(math.nan, 1.0)
    with pytest.raises(ValueError, match="below zero"):
        drawn_chances([1.0, 2.0], [[], []], [[1.0, 2.0], [2.0, 1.0]])
    with pytest.raises(ValueError, match="both sides of its diagonal"):
        drawn_chances([1.0, 2.0], [[], []], [[1.0, 0.5], [0.1, 1.0]])
    with pytest.raises(ValueError, match="no product"):
        chances_of_known([])
