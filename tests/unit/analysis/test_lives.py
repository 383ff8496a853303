"""Lives out of checkpoints and water classes, how two compare, and the words for both."""

from __future__ import annotations

import itertools
import math

import pytest

from acquire.analysis.durability.demonstration import failures_seen, specimens_needed
from acquire.analysis.durability.life import Life, Relation, life_of, relation, relation_words
from acquire.analysis.durability.waterclass import life_by_class, middle_class

SCALE = ("sheets", "slow", "beads", "tight beads")
AB = ("A", "B")


def test_a_life_lies_between_the_last_pass_and_the_first_failure_in_any_order() -> None:
    looks = [(0.0, True), (5.0, True), (10.0, False), (15.0, False)]
    for order in itertools.permutations(looks):
        found = life_of(order)
        assert found.life == Life(5, 10)
        assert found.remark == ""


def test_washing_that_stopped_first_leaves_at_least_that_life() -> None:
    life = life_of([(0, True), (30, True)]).life
    assert life == Life(30)
    assert life.is_censored
    assert life.words == "at least 30 washes"


def test_a_first_look_that_failed_leaves_the_life_open_below() -> None:
    life = life_of([(5, False)]).life
    assert life == Life(0, 5)
    assert life.words == "fewer than 5 washes"


def test_a_pass_after_a_failure_is_shown_and_does_not_lengthen_the_life() -> None:
    found = life_of([(5, True), (10, False), (15, True), (20, False)])
    assert found.life == Life(5, 10)
    assert found.passed_again == (15,)
    assert "passed again at 15" in found.remark


def test_no_look_and_failure_before_the_first_wash_leave_no_life_and_say_so() -> None:
    assert life_of([]).lacking == "nobody looked at it"
    found = life_of([(0, False), (5, False)])
    assert found.life is None
    assert "before the first wash" in found.lacking


@pytest.mark.parametrize("looks", [[(5, True), (5, False)], [(-1, True)], [(math.nan, True)]])
def test_contradictory_looks_are_refused(looks: list[tuple[float, bool]]) -> None:
    with pytest.raises(ValueError, match=r"contradictory|wanted"):
        life_of(looks)


@pytest.mark.parametrize(("low", "high"), [(10, 10), (10, 5), (-1, 5), (math.nan, 5), (3, math.nan),
                                           (math.inf, math.inf)])  # fmt: skip
def test_a_life_that_failed_before_it_passed_is_refused(low: float, high: float) -> None:
    with pytest.raises(ValueError, match=r"contradictory|0 or more"):
        Life(low, high)


@pytest.mark.parametrize(
    ("first", "second", "said"),
    [
        (Life(15, 20), Life(5, 10), Relation.OUTLIVED),
        (Life(10, 15), Life(5, 10), Relation.OUTLIVED),  # above 10 against 10 at most
        (Life(30), Life(25, 30), Relation.OUTLIVED),
        (Life(5, 10), Life(15), Relation.OUTLIVED_BY),
        (Life(5, 12), Life(10, 15), Relation.NOT_SHOWN),
        (Life(30), Life(30), Relation.NOT_SHOWN),
        (Life(10), Life(15, 20), Relation.NOT_SHOWN),  # it may yet outlive, or not
        (Life(5, 10), Life(5, 10), Relation.NOT_SHOWN),
    ],
)
def test_only_intervals_that_do_not_meet_show_who_outlived_whom(
    first: Life, second: Life, said: Relation
) -> None:
    assert relation(first, second) is said
    back = {Relation.OUTLIVED: Relation.OUTLIVED_BY, Relation.OUTLIVED_BY: Relation.OUTLIVED}
    assert relation(second, first) is back.get(said, said)


def test_the_words_name_the_longer_life_first_and_by_how_much_at_least() -> None:
    text = "A outlived B by more than 5 washes: 15 to 20 washes against 5 to 10 washes."
    assert relation_words(AB, Life(15, 20), Life(5, 10)) == text
    assert relation_words(AB[::-1], Life(5, 10), Life(15, 20)) == text
    assert relation_words(AB, Life(10, 15), Life(5, 10)).startswith("A outlived B: 10 to 15")
    assert "overlap" in relation_words(AB, Life(5, 12), Life(10, 15))
    assert "neither failed, at least 30" in relation_words(AB, Life(30), Life(40))
    assert Life(1, 2).words == "1 wash, failed at the next"


def test_the_life_by_classes_ends_at_the_first_class_below_the_criterion() -> None:
    looks = [(0, "tight beads"), (5, "beads"), (10, "slow"), (15, "sheets")]
    assert life_by_class(looks, SCALE, "beads").life == Life(5, 10)
    assert life_by_class(looks, SCALE, "slow").life == Life(10, 15)
    assert life_by_class(looks, SCALE, "sheets").life == Life(15)
    assert life_by_class(looks, SCALE, "tight beads").life == Life(0, 5)


def test_of_several_raters_the_middle_class_counts_and_never_a_mean() -> None:
    assert middle_class(["sheets", "beads", "tight beads"], SCALE) == "beads"
    # Of two, the lower: a mean of steps would be "slow", which nobody saw.
    assert middle_class(["sheets", "beads"], SCALE) == "sheets"
    looks = [(0, "beads"), (5, "beads"), (5, "sheets"), (5, "beads"), (10, "sheets")]
    assert life_by_class(looks, SCALE, "beads").life == Life(5, 10)


def test_a_class_off_the_scale_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="'foams': wanted one of"):
        life_by_class([(0, "foams")], SCALE, "beads")
    with pytest.raises(ValueError, match="'great'"):
        life_by_class([(0, "beads")], SCALE, "great")
    with pytest.raises(ValueError, match="2 or more different"):
        middle_class(["beads"], ("beads", "beads"))


@pytest.mark.parametrize(
    ("seen", "n", "low", "high"),
    [  # Clopper and Pearson, closed form, computed outside the project
        (1, 5, 0.0050507634, 0.71641794),
        (4, 5, 0.28358206, 0.99494924),
        (2, 10, 0.025210726, 0.55609546),
    ],
)
def test_limits_with_failures_agree_with_clopper_and_pearson(
    seen: int, n: int, low: float, high: float
) -> None:
    found = failures_seen(n, seen)
    assert found.two_sided == pytest.approx((low, high), abs=1e-7)
    assert found.rule_of_three is None


def test_no_failure_and_nothing_but_failures_mirror_each_other() -> None:
    none, every = failures_seen(7), failures_seen(7, 7)
    assert none.two_sided[0] == 0
    assert every.two_sided == pytest.approx((1 - none.two_sided[1], 1.0))
    assert every.upper == 1
    assert failures_seen(2).rule_of_three == 1  # a share is never above 1
    assert "up to 95 % of such specimens may fail" in failures_seen(1).words


@pytest.mark.parametrize(
    ("reliability", "confidence", "n"), [(0.9, 0.9, 22), (0.9, 0.95, 29), (0.8, 0.8, 8)]
)
def test_specimens_needed_agree_with_the_table_of_success_runs(
    reliability: float, confidence: float, n: int
) -> None:  # widely tabulated, from memory
    assert specimens_needed(reliability, confidence) == n
    assert failures_seen(n, confidence=confidence).upper <= 1 - reliability
    assert failures_seen(n - 1, confidence=confidence).upper > 1 - reliability


def test_a_whole_number_of_specimens_is_not_rounded_up() -> None:
    assert specimens_needed(0.5, 0.75) == 2


@pytest.mark.parametrize(("n", "failures"), [(0, 0), (5, 6), (5, -1)])
def test_numbers_that_cannot_be_are_refused(n: int, failures: int) -> None:
    with pytest.raises(ValueError, match="0 to n failures"):
        failures_seen(n, failures)
    with pytest.raises(ValueError, match="between 0 and 1"):
        specimens_needed(1.0)
