"""Runs rules: which points break them, and how often chance does."""

from __future__ import annotations

import numpy as np
import pytest

from acquire.history.runs import (
    IN_USE,
    LIMITS_ONLY,
    ZONES,
    Breach,
    Numbers,
    Rule,
    RuleSet,
    breaches,
    completing,
    said,
)
from tests.unit.run_lengths import Zones, mean_run_length


def found(rule: Rule, z: list[float], numbers: Numbers | None = None) -> list[Breach]:
    return list(breaches(np.array(z), RuleSet("one", (rule,), numbers or Numbers(), 0.0)))


def test_each_point_beyond_a_limit_is_named() -> None:
    z = [0.0, 3.1, 3.2, 0.0, -3.1]
    assert found(Rule.BEYOND, z) == [
        Breach(Rule.BEYOND, 1, 2, (1, 2)),
        Breach(Rule.BEYOND, 4, 4, (4,)),
    ]


def test_a_run_names_all_its_points_and_goes_on() -> None:
    z = [-0.1, *[0.2] * 11, -0.1]
    assert found(Rule.ONE_SIDE, z) == [Breach(Rule.ONE_SIDE, 9, 11, tuple(range(1, 12)))]


def test_a_point_on_the_centre_breaks_a_run() -> None:
    assert found(Rule.ONE_SIDE, [*[0.2] * 8, 0.0, *[0.2] * 8]) == []


def test_how_many_make_a_run_is_a_setting() -> None:
    assert len(found(Rule.ONE_SIDE, [0.2] * 7, Numbers(one_side=7))) == 1


def test_two_of_three_far_out_name_the_two() -> None:
    assert found(Rule.FAR, [0.0, 2.1, 0.4, 2.3, 0.0]) == [Breach(Rule.FAR, 3, 3, (1, 3))]
    assert found(Rule.FAR, [2.1, 0.0, 0.0, 2.1]) == []
    assert found(Rule.FAR, [2.1, -2.1]) == []


def test_four_of_five_off_name_the_four() -> None:
    assert found(Rule.OFF, [-1.1, -1.2, -0.3, -1.4, -1.5]) == [Breach(Rule.OFF, 4, 4, (0, 1, 3, 4))]


def test_six_going_down_are_as_bad_as_six_going_up() -> None:
    assert found(Rule.STEADY, [0.6, 0.5, 0.4, 0.3, 0.2, 0.1]) == [
        Breach(Rule.STEADY, 5, 5, tuple(range(6)))
    ]
    assert found(Rule.STEADY, [0.6, 0.5, 0.4, 0.4, 0.3, 0.2, 0.1]) == []


def test_equal_neighbours_do_not_alternate() -> None:
    z = [0.3, -0.3] * 7
    assert len(found(Rule.ALTERNATING, z)) == 1
    z[7] = z[6]
    assert found(Rule.ALTERNATING, z) == []


def test_eight_out_on_either_side() -> None:
    assert found(Rule.AVOIDING, [1.5, -1.5] * 4)[0].points == tuple(range(8))
    assert found(Rule.AVOIDING, [1.5, -1.5, 0.9, *[1.5] * 5]) == []


def test_points_before_a_pattern_are_no_part_of_it() -> None:
    assert found(Rule.HUGGING, [2.0, *[0.3] * 15])[0].points == tuple(range(1, 16))


def test_a_figure_on_a_limit_but_for_its_last_bit_is_not_beyond_it() -> None:
    just = 0.1 * 3 / 0.1
    assert just > 3
    assert found(Rule.BEYOND, [just]) == []


@pytest.mark.parametrize("rule", Rule)
@pytest.mark.parametrize("count", [0, 1, 2, 3])
def test_few_points_break_no_rule_but_that_of_far_points(rule: Rule, count: int) -> None:
    assert not completing(rule, np.full(count, 0.5), Numbers()).any()


@pytest.mark.parametrize("rule", Rule)
def test_every_rule_is_said_in_words_with_its_numbers(rule: Rule) -> None:
    text = said(rule, Numbers(one_side=21, steady=22, alternating=23, far=(2, 24), off=(4, 25),
                              hugging=26, avoiding=27))  # fmt: skip
    assert rule is Rule.BEYOND or str(19 + rule.value) in text


@pytest.mark.parametrize(
    ("zones", "shift", "printed", "rel"),
    [
        # C. W. Champ and W. H. Woodall, Technometrics 29 (1987) 393: 91.75, from memory.
        (Zones(one_side=8, far=(2, 3), off=(4, 5)), 0.0, 91.75, 6e-5),
        # Limits of 3 sigma alone: closed form; 43.9, 6.3 and 2.0 widely tabulated, from memory.
        (Zones(), 1.0, 43.894681718539545, 1e-6),
        (Zones(), 2.0, 6.302962987143026, 1e-6),
        (Zones(), 3.0, 1.9999999960536492, 1e-6),
    ],
)
def test_the_chain_itself_gives_the_printed_run_lengths(
    zones: Zones, shift: float, printed: float, rel: float
) -> None:
    assert mean_run_length(zones, shift) == pytest.approx(printed, rel=rel)


# ZONES: C. W. Champ and W. H. Woodall (1987) print 91.75; LIMITS_ONLY: 370.4, closed form.
@pytest.mark.parametrize(
    ("rules", "zones"),
    [
        (LIMITS_ONLY, Zones()),
        (ZONES, Zones(one_side=8, far=(2, 3), off=(4, 5))),
        (IN_USE, Zones(one_side=9, far=(2, 3))),
    ],
)
def test_a_set_alarms_in_vain_as_often_as_it_says(rules: RuleSet, zones: Zones) -> None:
    assert rules.checks_to_false_alarm == pytest.approx(mean_run_length(zones), rel=1e-4)


@pytest.mark.parametrize("rules", [ZONES, IN_USE])
def test_the_rules_break_as_often_as_the_chain_says(rules: RuleSet) -> None:
    draws = np.random.default_rng(4).standard_normal((1200, 1100))
    runs = [b[0].completed + 1 if (b := breaches(z, rules)) else 1100 for z in draws]
    error = 4 * np.std(runs) / np.sqrt(len(runs))
    assert np.mean(runs) == pytest.approx(rules.checks_to_false_alarm, abs=error)
