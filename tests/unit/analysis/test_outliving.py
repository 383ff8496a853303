"""Which treatment outlives which: scores, chances counted by hand, adjustment, refusals."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from acquire.analysis.durability.life import Life, Relation
from acquire.analysis.durability.logrank import log_rank
from acquire.analysis.durability.outliving import compare_lives, holm, lives_test
from acquire.analysis.durability.permutation import DRAWS, chance_of
from acquire.analysis.durability.scores import log_rank_scores

LONG = [Life(20, 25), Life(25, 30), Life(30), Life(30), Life(25, 30)]
SHORT = [Life(5, 10), Life(10, 15), Life(10, 15), Life(15, 20), Life(5, 10)]


def drawn(source: np.random.Generator, n: int, scale: float = 12.0) -> list[Life]:
    """Lives of an exponential law, looked at every 5 washes until 30."""
    looks = np.arange(0, 31, 5)
    found = []
    for life in source.exponential(scale, n):
        place = int(np.searchsorted(looks, life))
        found.append(Life(30) if place == looks.size else Life(looks[place - 1], looks[place]))
    return found


def test_on_exact_and_censored_lives_the_sums_are_observed_less_expected() -> None:
    source = np.random.default_rng(3)
    for _ in range(25):
        n = 14
        counts, failed = source.integers(1, 15, n), source.random(n) < 0.7
        lives = [Life(c - 1, c) if f else Life(c) for c, f in zip(counts, failed, strict=True)]
        scores, _ = log_rank_scores(lives)
        ranked = log_rank(
            (counts[:6].tolist(), failed[:6].tolist()), (counts[6:].tolist(), failed[6:].tolist())
        )
        assert scores.sum() == pytest.approx(0, abs=1e-9)
        assert scores[:6].sum() == pytest.approx(ranked.observed[0] - ranked.expected[0], abs=1e-6)


@pytest.mark.parametrize("sizes", [(3, 4), (2, 2), (1, 5), (5, 3)])
def test_the_chance_of_two_groups_is_that_of_all_ways_written_out(sizes: tuple[int, int]) -> None:
    source = np.random.default_rng(sum(sizes))
    pool = source.integers(-4, 5, sum(sizes)).astype(float)
    pool -= pool.mean()
    n = pool.size
    seen = abs(pool[: sizes[0]].sum())
    ways = [abs(pool[list(c)].sum()) for c in itertools.combinations(range(n), sizes[0])]
    found = chance_of([pool[: sizes[0]], pool[sizes[0] :]])
    assert found.exact
    assert found.p == pytest.approx(np.mean([w >= seen - 1e-9 for w in ways]))
    assert found.smallest == pytest.approx(np.mean([w >= max(ways) - 1e-9 for w in ways]))


def test_the_chance_of_three_groups_is_that_of_all_orders_written_out() -> None:
    pool = np.array([-2.0, -1.0, -1.0, 0.5, 1.5, 2.0])
    sizes = (1, 2, 3)

    def parted(order: tuple[int, ...]) -> float:
        ends = np.cumsum((0, *sizes))
        parts = [pool[list(order[a:b])] for a, b in itertools.pairwise(ends)]
        return float(sum(p.sum() ** 2 / p.size for p in parts))

    every = [parted(order) for order in itertools.permutations(range(6))]
    seen = (0, 1, 2, 3, 4, 5)
    found = chance_of([pool[:1], pool[1:3], pool[3:]])
    assert found.exact
    assert found.p == pytest.approx(np.mean([v >= parted(seen) - 1e-9 for v in every]))


def test_drawn_chances_come_near_the_counted_one_and_are_the_same_each_time() -> None:
    source = np.random.default_rng(5)
    groups = [source.normal(size=4), source.normal(0.8, size=4), source.normal(size=4)]
    found = chance_of(groups)
    assert not found.exact
    assert found == chance_of(groups[::-1])
    assert found == chance_of([g[::-1] for g in groups])
    pool = np.concatenate(groups)
    pool -= pool.mean()
    other = np.random.default_rng(99)
    seen = sum(g.sum() ** 2 / 4 for g in np.split(pool, 3))
    ways = [sum(g.sum() ** 2 / 4 for g in np.split(other.permutation(pool), 3))
            for _ in range(20_000)]  # fmt: skip
    assert found.p == pytest.approx(np.mean(np.array(ways) >= seen), abs=0.02)
    assert found.p >= 1 / (DRAWS + 1)


def test_far_longer_lives_are_said_to_outlive_and_in_either_order() -> None:
    pair = compare_lives({"seal": LONG, "wax": SHORT}).pairs[0]
    assert pair.found is Relation.OUTLIVED
    assert pair.p == pytest.approx(2 / math.comb(10, 5))
    assert pair.sentence == "seal outlived wax (p = 0.0079, 5 specimens of seal, 5 of wax)."
    back = compare_lives({"wax": SHORT, "seal": LONG}).pairs[0]
    assert back.found is Relation.OUTLIVED_BY
    assert back.p == pair.p


def test_neither_the_order_nor_the_unit_of_counts_changes_a_chance() -> None:
    one, other = drawn(np.random.default_rng(1), 6), drawn(np.random.default_rng(2), 7)
    found = lives_test([one, other])
    mixed = lives_test([one[::-1], other[3:] + other[:3]])
    assert mixed.chance == found.chance
    assert mixed.sums == pytest.approx(found.sums, abs=1e-7)
    tenfold = [[Life(10 * x.low, 10 * x.high) for x in g] for g in (one, other)]
    assert lives_test(tenfold).chance == found.chance


def test_treatments_that_do_not_differ_are_told_apart_one_time_in_twenty_at_most() -> None:
    source = np.random.default_rng(11)
    false = sum(
        any(p.found is not Relation.NOT_SHOWN for p in compare_lives(
            {name: drawn(source, 5) for name in "abc"}).pairs)
        for _ in range(200)
    )  # fmt: skip
    # 5 % of 200 is 10; more than 18 has a chance below 1 %.
    assert false <= 18


def test_many_specimens_agree_with_the_law_of_many() -> None:
    source = np.random.default_rng(4)
    found = lives_test([drawn(source, 40), drawn(source, 40, 18.0)])
    assert found.chance is not None
    assert found.p_many == pytest.approx(found.chance.p, abs=0.01)


def test_holm_adjusts_as_in_the_textbook() -> None:
    # S. Holm's rule by hand: 0.01 x 3, 0.03 x 2, then not below the one before.
    assert holm({"a": 0.03, "b": 0.01, "c": 0.04}) == pytest.approx(
        {"a": 0.06, "b": 0.03, "c": 0.06}
    )


def test_lives_that_could_not_have_shown_it_are_said_to() -> None:
    pair = compare_lives({"seal": LONG[:2], "wax": SHORT[:2]}).pairs[0]
    assert pair.smallest == pytest.approx(1 / 3)
    assert "could not have shown it" in pair.sentence
    enough = compare_lives({"seal": LONG, "wax": LONG[::-1]}).pairs[0]
    assert enough.p == 1
    assert "could not" not in enough.sentence


def test_one_specimen_each_compares_specimens_and_no_treatments() -> None:
    pair = compare_lives({"seal": LONG[:1], "wax": SHORT[:1]}).pairs[0]
    assert pair.found is Relation.NOT_SHOWN
    assert pair.p is None
    assert pair.sentence.startswith("seal outlived wax by more than 10 washes")
    assert "These two specimens only" in pair.sentence


@pytest.mark.parametrize(
    ("one", "other", "why"),
    [
        ([Life(30)] * 3, [Life(40)] * 3, "no specimen failed"),
        ([Life(5, 10)] * 2, [Life(5, 10)] * 3, "same interval"),
        ([Life(0, 10), Life(5, 10)], [Life(5, 15), Life(2)], "overlap"),
    ],
)
def test_what_cannot_be_compared_is_refused_with_its_reason(
    one: list[Life], other: list[Life], why: str
) -> None:
    found = compare_lives({"seal": one, "wax": other})
    assert why in found.pairs[0].sentence
    assert found.overall.chance is None
    assert why in found.overall.rule


def test_a_treatment_without_a_life_is_refused() -> None:
    with pytest.raises(ValueError, match="two or more groups"):
        compare_lives({"seal": LONG, "wax": []})
    with pytest.raises(ValueError, match="two or more groups"):
        compare_lives({"seal": LONG})


def test_a_refused_pair_does_not_count_among_those_adjusted_for() -> None:
    lives = {"seal": [Life(30)] * 5, "coat": [Life(30)] * 5, "wax": SHORT}
    found = {(p.first, p.second): p for p in compare_lives(lives).pairs}
    assert found["seal", "coat"].p is None
    assert found["seal", "wax"].p == pytest.approx(2 * 2 / math.comb(10, 5))
    assert found["seal", "wax"].found is Relation.OUTLIVED
