"""Agreement of raters: by hand, whole scales, ties, and what cannot be told."""

from __future__ import annotations

import pytest

from acquire.analysis.people.agreement import (
    Weights,
    cohen_kappa,
    fleiss_kappa,
    kendall_w,
    table_of,
)

SCALE = ("poor", "fair", "good")


def test_kappa_by_hand() -> None:
    # 70 of 100 agree, chance would make 0.5 x 0.6 + 0.5 x 0.4 = 0.5.
    found = cohen_kappa([[40, 10], [20, 30]])
    assert (found.observed, found.expected) == pytest.approx((0.7, 0.5))
    assert found.kappa == pytest.approx(0.4)
    assert found.z is not None
    assert found.z > 1.96
    interval = found.interval()
    assert interval is not None
    assert interval[0] < 0.4 < interval[1]


def test_raters_who_agree_wholly_have_one_and_opposed_ones_less_than_none() -> None:
    same = ["poor", "fair", "good", "good"]
    assert cohen_kappa(table_of(same, same, SCALE)).kappa == pytest.approx(1.0)
    opposed = cohen_kappa([[0, 5], [5, 0]])
    assert opposed.kappa == pytest.approx(-1.0)


def test_weights_forgive_a_step_beside_more_than_one_far_off() -> None:
    near = cohen_kappa([[5, 3, 0], [3, 5, 3], [0, 3, 5]], Weights.LINEAR).kappa
    far = cohen_kappa([[5, 0, 3], [3, 8, 0], [3, 0, 5]], Weights.LINEAR).kappa
    assert near is not None
    assert far is not None
    assert near > far


def test_a_step_that_nobody_used_belongs_to_the_scale_all_the_same() -> None:
    first, second = [1, 2, 4, 4, 6, 6, 3, 1], [2, 2, 4, 6, 6, 4, 3, 1]
    whole = cohen_kappa(table_of(first, second, range(1, 7)), Weights.LINEAR).kappa
    used = cohen_kappa(table_of(first, second, (1, 2, 3, 4, 6)), Weights.LINEAR).kappa
    assert whole != pytest.approx(used, abs=1e-3)
    assert cohen_kappa(table_of(first, second, range(1, 7))).kappa == pytest.approx(
        cohen_kappa(table_of(first, second, (1, 2, 3, 4, 6))).kappa
    )


def test_one_step_for_all_says_agreement_and_no_kappa() -> None:
    found = cohen_kappa([[10, 0], [0, 0]])
    assert (found.observed, found.kappa, found.z, found.interval()) == (1.0, None, None, None)
    several = fleiss_kappa([[3, 0], [3, 0]])
    assert (several.fixed.observed, several.fixed.kappa) == (1.0, None)
    assert several.free.kappa == 1.0


def test_ratings_rank_as_their_order_whatever_their_scale() -> None:
    ratings = [[1.0, 10.0, 3.0], [2.0, 30.0, 2.0], [4.0, 20.0, 5.0]]
    ranks = [[1, 1, 2], [2, 3, 1], [3, 2, 3]]
    assert kendall_w(ratings) == kendall_w(ranks)


def test_tied_ranks_are_corrected_for() -> None:
    # Both judges tie the same two things: they agree wholly.
    found = kendall_w([[1, 1], [2, 2], [2, 2], [3, 3]])
    assert found.w == pytest.approx(1.0)
    assert found.f is None
    everything = kendall_w([[1, 2], [1, 2], [1, 2]])
    assert (everything.w, everything.p) == (None, None)


def test_what_is_no_table_of_ratings_is_refused() -> None:
    with pytest.raises(ValueError, match="square"):
        cohen_kappa([[1, 2]])
    with pytest.raises(ValueError, match="counts of 0 or more"):
        cohen_kappa([[0, 0], [0, 0]])
    with pytest.raises(ValueError, match="no step of the scale"):
        table_of(["poor"], ["superb"], SCALE)
    with pytest.raises(ValueError, match="the same things"):
        table_of(["poor"], [], SCALE)
    with pytest.raises(ValueError, match="same 2 or more people"):
        fleiss_kappa([[2, 1], [1, 1]])
    with pytest.raises(ValueError, match="2 or more things"):
        kendall_w([[1, 2]])
    with pytest.raises(ValueError, match="finite score"):
        kendall_w([[1, 2], [float("nan"), 3]])
