"""The limit of a decision: by hand, against Welch's and Banerjee's, its p and its power."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from acquire.analysis.budget.reach import (
    coverage_of,
    coverage_rule,
    joint_level,
    reach_of,
    shared_level,
)
from acquire.analysis.budget.uncertainty import (
    Distribution,
    Kind,
    Term,
    rectangular,
    welch_satterthwaite,
)


def line(u: float, nu: float, name: str = "scatter") -> Term:
    return Term(name, Kind.A, u, nu, 1.0, Distribution.NORMAL, "")


def t(alpha: float, nu: float) -> float:
    return float(stats.t.ppf(1 - alpha / 2, nu))


Z = float(stats.norm.ppf(0.975))


def test_one_line_alone_is_students_t_and_a_known_one_the_normal_law() -> None:
    assert reach_of([line(0.2, 4)]).half_width(0.05) == pytest.approx(t(0.05, 4) * 0.2)
    known = rectangular("display", 0.1, "")
    assert reach_of([known]).half_width(0.05) == pytest.approx(Z * known.u)


def test_the_least_known_line_counts_with_its_t_and_the_rest_as_if_known() -> None:
    reach = reach_of([line(0.3, 10), line(0.2, 2, "few"), rectangular("display", 0.1, "")])
    u_square = 0.09 + 0.04 + 0.01 / 3
    widest = max((t(0.05, 10) ** 2 - Z**2) * 0.09, (t(0.05, 2) ** 2 - Z**2) * 0.04)
    assert reach.u == pytest.approx(math.sqrt(u_square))
    assert reach.half_width(0.05) == pytest.approx(math.sqrt(Z**2 * u_square + widest))
    found = reach.least_known(0.05)
    assert found is not None
    assert found.name == "few"


@pytest.mark.parametrize("seed", range(30))
def test_it_is_never_narrower_than_welchs_limit_nor_wider_than_banerjees(seed: int) -> None:
    draw = np.random.default_rng(seed)
    us = draw.exponential(1, 5)
    nus = [*map(float, draw.integers(1, 12, 4)), math.inf]
    for alpha in (0.1, 0.05, 0.01):
        half = reach_of([line(u, nu) for u, nu in zip(us, nus, strict=True)]).half_width(alpha)
        welch = welch_satterthwaite(list(us), nus)
        banerjee = math.hypot(*(t(alpha, nu) * u for u, nu in zip(us, nus, strict=True)))
        assert t(alpha, welch.nu) * welch.u <= half * (1 + 1e-9)
        assert half <= banerjee * (1 + 1e-9)


def test_one_more_doubt_never_narrows_the_limit() -> None:
    # Welch's does: a second mean of three readings takes t from 4.30 to 2.78.
    one, two = reach_of([line(0.2, 2)]), reach_of([line(0.2, 2), line(0.2, 2)])
    assert two.half_width(0.05) > one.half_width(0.05)


def test_p_is_the_level_at_which_the_limit_is_just_reached() -> None:
    reach = reach_of([line(0.3, 3), line(0.2, 2), rectangular("display", 0.1, "")])
    for alpha in (0.9, 0.3, 0.05, 1e-3, 1e-8):
        assert reach.p(reach.half_width(alpha)) == pytest.approx(alpha, rel=1e-6)
    assert (reach.p(0.0), reach.p(-1.0), reach.p(math.inf)) == (1.0, 1.0, 0.0)
    assert reach_of([line(1e-200, 3)]).p(t(0.05, 3) * 1e-200) == pytest.approx(0.05)


def test_the_smallest_difference_of_one_line_is_that_of_the_noncentral_t_law() -> None:
    one = reach_of([line(0.2, 4)])
    found = one.smallest(0.05, 0.8)
    law = stats.nct(4, found / 0.2)
    assert float(law.sf(t(0.05, 4)) + law.cdf(-t(0.05, 4))) == pytest.approx(0.8)
    assert one.power(found, 0.05) == pytest.approx(0.8)
    known = reach_of([rectangular("display", 0.1, "")])
    # Known scatter: 1.960 + 0.842 standard uncertainties (normal tables, from memory).
    assert known.smallest(0.05, 0.8) == pytest.approx(2.8016 * known.u, rel=1e-4)


def test_a_difference_of_the_visible_size_is_shown_as_often_as_promised() -> None:
    # Four true standard uncertainties of 0.1 with four degrees of freedom each, estimated anew.
    draw = np.random.default_rng(4)
    visible = reach_of([line(0.1, 4)] * 4).smallest(0.05, 0.8)
    shown = 0
    for _ in range(4000):
        us = 0.1 * np.sqrt(draw.chisquare(4, 4) / 4)
        reach = reach_of([line(float(u), 4) for u in us])
        shown += abs(visible + 0.2 * draw.normal()) > reach.half_width(0.05)
    assert shown / 4000 == pytest.approx(0.8, abs=0.02)


def test_levels_are_shared_and_joined_again() -> None:
    assert shared_level(0.05, 1) == pytest.approx(0.05)
    assert shared_level(0.05, 4) == pytest.approx(1 - 0.95**0.25)
    assert joint_level(shared_level(0.05, 4), 4) == pytest.approx(0.05)
    assert joint_level(1.0, 3) == 1.0


def test_a_level_of_one_is_shared_by_any_number() -> None:
    # The search for p comes to levels that are one but for rounding.
    assert shared_level(1.0, 2) == 1.0


def test_the_rule_has_every_figure_that_recomputing_takes() -> None:
    reach = reach_of([line(0.3, 10), line(0.2, 2, "few")])
    said = coverage_rule(reach, 0.05, 1)
    assert "z = 1.960 and t = 4.303 are the two-sided limits for 95 %" in said
    assert "2 degrees of freedom, those of “few”, which makes 30.77 % of the variance" in said
    k = math.sqrt(1.960**2 + (4.303**2 - 1.960**2) * 0.3077)
    assert reach.half_width(0.05) / reach.u == pytest.approx(k, rel=1e-4)
    assert "normal law for 95 %" in coverage_rule(reach_of([rectangular("d", 1, "")]), 0.05, 1)


def test_a_budget_of_nothing_has_no_reach() -> None:
    with pytest.raises(ValueError, match="no line of the budget"):
        reach_of([line(0.0, 3)])


def test_the_limit_of_one_difference_in_one_go_is_that_of_its_reach() -> None:
    draw = np.random.default_rng(6)
    for _ in range(200):
        terms = [
            Term(f"line {k}", Kind.A, float(draw.uniform(0, 2)), float(nu), float(draw.normal()),
                 Distribution.NORMAL, "")
            for k, nu in enumerate(draw.choice([1.0, 2.0, 4.5, 30.0, math.inf], size=4))
        ]  # fmt: skip
        factor, rule = coverage_of(terms, 0.05)
        reach = reach_of(terms)
        assert factor == pytest.approx(reach.half_width(0.05) / reach.u, rel=1e-12)
        assert rule == coverage_rule(reach, 0.05, 1)
    with pytest.raises(ValueError, match="no line of the budget is above zero"):
        coverage_of([terms[0]._replace(u=0.0)], 0.05)
