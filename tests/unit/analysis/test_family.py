"""Comparisons with one control have Dunnett's limit where one scatter stands for all of them."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.random import default_rng
from scipy import stats

from acquire.analysis.budget.reach import reach_of
from acquire.analysis.budget.uncertainty import Distribution, Kind, Term
from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.laws.dunnett import critical
from acquire.analysis.results import MeasureResult
from tests.unit.analysis.bench import BARE, Readings, judged, result_of
from tests.unit.analysis.test_deepfilms import drawn


def spread(number: int) -> list[float]:
    """Changes of so many zones with a mean of 0 and a standard deviation of 0.4."""
    steps = np.linspace(-1.0, 1.0, number)
    return [0.0] if number == 1 else [float(x) for x in steps * (0.4 / steps.std(ddof=1))]


def of_zones(counts: dict[str, int], changes: dict[str, float] | None = None) -> Readings:
    """Treatments with so many zones, which spread alike."""
    found: Readings = {}
    for stage in ("bare", "applied"):
        for name, number in counts.items():
            for k in range(number):
                change = (changes or {}).get(name, 0.0) + spread(number)[k]
                shift = change if stage == "applied" else 0.0
                found[f"{name}{k}", stage] = tuple(v + shift for v in BARE)
    return found


def limit_of(result: MeasureResult, name: str) -> float:
    return judged(result, name).critical_value


def test_published_limits_of_zones_that_are_alike_are_those_of_results() -> None:
    """C. W. Dunnett, Biometrics 20 (1964) 482, two-sided, 5 %: 2.90 for 5 treatments at 12 degrees
    of freedom (three zones each) and 2.59 for 3 at 16 (five each); the second also in
    tests/reference/cases (DUNNETT-crit-df16), the first from memory.
    """
    five = {name: 3 for name in ("control", "wax", "oil", "gel", "wash", "tar")}
    assert limit_of(result_of(of_zones(five), resolution=0.0), "wax") == pytest.approx(
        2.90, abs=5e-3
    )
    three = {name: 5 for name in ("control", "wax", "oil", "gel")}
    assert limit_of(result_of(of_zones(three), resolution=0.0), "gel") == pytest.approx(
        2.59, abs=5e-3
    )


def test_unlike_numbers_of_zones_have_the_limit_of_scipys_test() -> None:
    counts = {"control": 5, "wax": 3, "oil": 2, "gel": 4}
    result = result_of(of_zones(counts, {"wax": 1.0}), resolution=0.0)
    changes = {n: np.array(spread(k)) + (n == "wax") for n, k in counts.items()}
    others = [changes[n] for n in ("wax", "oil", "gel")]
    found = stats.dunnett(*others, control=changes["control"], rng=2)
    for place, name in enumerate(("wax", "oil", "gel")):
        comparison = judged(result, name)
        assert comparison.p == pytest.approx(float(found.pvalue[place]), abs=2e-3)
    rule = judged(result, "wax").budget.coverage_rule
    assert "makes 0.28 to 0.44 of its variance" in rule


def test_a_film_with_a_scatter_of_its_own_has_dunnetts_limit_at_its_own_degrees_of_freedom() -> (
    None
):
    """By the integral of `acquire.analysis.laws.dunnett`, with nothing shared by the deep film."""
    result = drawn({"nil": 0.0, "weak": 0.01, "mid": 0.05, "deep": 1.5}, 3, default_rng(7))
    deep, mid = judged(result, "deep"), judged(result, "mid")
    lambdas = (0.0, *[math.sqrt(0.49)] * 3)
    for found in (deep, mid):
        line = found.budget.terms[0]
        share = (line.contribution / found.budget.combined) ** 2
        z, t = (critical(lambdas, nu) for nu in (math.inf, line.nu))
        expected = math.sqrt(z**2 + (t**2 - z**2) * share)
        assert found.critical_value == pytest.approx(expected, rel=2e-3)
    assert deep.budget.terms[0].nu < mid.budget.terms[0].nu == 10
    assert "for one at 10 degrees of freedom" in mid.budget.coverage_rule
    assert "hold 95 % (Dunnett, Hasler and Hothorn)" in deep.budget.coverage_rule


def test_what_else_is_in_the_budget_makes_the_limit_wider_and_never_narrower() -> None:
    counts = dict.fromkeys(("control", "wax", "oil", "gel"), 3)
    plain = limit_of(result_of(of_zones(counts), resolution=0.0), "wax")
    rough = judged(result_of(of_zones(counts), resolution=0.5), "wax")
    lines = rough.budget.terms
    zones = lines[0].contribution ** 2
    every = math.fsum(t.contribution**2 for t in lines)
    assert every > 1.01 * zones
    rho = math.floor(100 * (zones / 2 - (every - zones)) / every) / 100
    z, t = (critical((math.sqrt(rho),) * 3, nu) for nu in (math.inf, 8.0))
    share = zones / every
    assert rough.critical_value == pytest.approx(math.sqrt(z**2 + (t**2 - z**2) * share))
    assert critical((math.sqrt(rho),) * 3, 8.0) > plain


def test_zones_with_a_scatter_of_their_own_share_the_level() -> None:
    counts = dict.fromkeys(("control", "wax", "oil"), 1)
    rule = judged(result_of(of_zones(counts)), "wax").budget.coverage_rule
    assert "(Šidák, since no one scatter stands for all of them)" in rule


def test_one_treatment_with_several_zones_has_no_family() -> None:
    found = judged(result_of(of_zones({"control": 4, "wax": 4})), "wax")
    assert "Dunnett" not in found.budget.coverage_rule


def test_a_difference_is_shown_where_its_p_is_below_a_twentieth() -> None:
    counts = dict.fromkeys(("control", "wax", "oil", "gel"), 3)
    edge = judged(result_of(of_zones(counts), resolution=0.0), "wax").budget.expanded
    for size, is_shown in ((edge * 1.001, True), (edge * 0.999, False)):
        found = judged(result_of(of_zones(counts, {"wax": size}), resolution=0.0), "wax")
        assert found.is_difference_shown is is_shown
        assert (found.p < 0.05) is is_shown
        assert found.p == pytest.approx(0.05, rel=0.01)
    far = judged(result_of(of_zones(counts, {"wax": 100.0}), resolution=0.0), "wax")
    near = judged(result_of(of_zones(counts), resolution=0.0), "wax")
    assert (far.p, near.p) == (0.0, 1.0)


@pytest.mark.parametrize("checks", [0, 1])
def test_the_probability_is_the_level_at_which_the_limit_is_just_reached(checks: int) -> None:
    lines = [
        Term("zones", Kind.A, 1.0, 12.0, 1.0, Distribution.NORMAL, "", is_common=True),
        Term("display", Kind.B, 0.3, math.inf, 1.0, Distribution.RECTANGULAR, ""),
        Term("check", Kind.A, 0.2, 4.0, float(checks), Distribution.NORMAL, "", is_common=True),
    ]
    reach = reach_of(lines, lambdas=(0.6, 0.65, 0.65))
    for level in (0.001, 0.05, 0.3, 0.7):
        assert reach.p(reach.half_width(level)) == pytest.approx(level, rel=1e-4)
    assert reach.p(0.0) == 1.0
    assert reach.p(1e-9) == pytest.approx(1.0)
    assert reach.p(1e9) == 0.0


@pytest.mark.parametrize("counts", [(3, 3, 3, 3, 3, 3), (5, 2, 2, 3), (2, 2, 2, 2, 2)])
def test_by_drawing_the_chance_of_any_false_difference_is_a_twentieth_at_most(
    counts: tuple[int, ...],
) -> None:
    """The limit of results, on 40,000 draws of changes that differ by chance alone."""
    control, *others = counts
    nu = sum(n - 1 for n in counts)
    lambdas = tuple(sorted(math.sqrt(math.floor(100 * n / (n + control)) / 100) for n in others))
    rng = np.random.default_rng(7)
    sides = [rng.normal(size=(40_000, n)) for n in counts]
    pool = sum((n - 1) * s.var(axis=1, ddof=1) for n, s in zip(counts, sides, strict=True)) / nu
    is_any = np.zeros(40_000, dtype=bool)
    limit = critical(lambdas, float(nu))
    for n, side in zip(others, sides[1:], strict=True):
        u = np.sqrt(pool * (1 / n + 1 / control))
        is_any |= abs(side.mean(axis=1) - sides[0].mean(axis=1)) > limit * u
    # Of what a pool alone would show; that the larger spread is taken comes on top.
    assert is_any.mean() == pytest.approx(0.05, abs=0.004)
    assert isinstance(judged(result_of(of_zones({"control": 2, "wax": 2, "oil": 2})), "wax"),
                      Comparison)  # fmt: skip
