"""What must hold for the analysis whatever the readings are."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acquire.analysis.budget.uncertainty import welch_satterthwaite
from acquire.analysis.checks.bracket import reading_doubt
from acquire.analysis.comparisons.comparison import Comparison, Refusal
from acquire.analysis.figures import rounded, signed
from acquire.analysis.laws import dunnett
from acquire.analysis.laws.student import t_factor, t_quantile
from acquire.analysis.results import Bracket, MeasureResult, measure_results
from acquire.analysis.samples.summary import MEASURED, summarise
from acquire.verify.calcs.textbook import Variances, two_sample
from tests.unit.analysis.bench import (
    Readings,
    has_nan,
    plan_of,
    quiet,
    result_of,
    samples_of,
    texts_in,
)

ZONES = ("control", "wax", "seal1", "seal2")
STAGES = ("bare", "applied")
PLACES = tuple((zone, stage) for stage in STAGES for zone in ZONES)

steps = st.integers(0, 1200)
"""Gloss as a meter shows it, in tenths of a GU."""
shown = st.lists(steps.map(lambda v: v / 10), max_size=5)
any_finite = st.floats(-1e100, 1e100, allow_nan=False)
any_measured = st.floats(-MEASURED, MEASURED, allow_nan=False)
"""What a measurement could give; larger readings are left out before results are made of them."""


def tables(values: st.SearchStrategy[list[float]]) -> st.SearchStrategy[Readings]:
    return st.fixed_dictionaries({place: values for place in PLACES})


def comparisons(result: MeasureResult) -> list[Comparison]:
    return [c for c in result.comparisons if isinstance(c, Comparison)]


def figures(result: MeasureResult) -> list[tuple[float, float, float]]:
    return [(c.estimate, c.budget.combined, c.smallest_visible) for c in comparisons(result)]


@given(readings=tables(st.lists(any_measured, max_size=4)), resolution=st.sampled_from([0.0, 0.1]))
@settings(max_examples=60, deadline=None, derandomize=True)
def test_no_finite_readings_ever_make_a_figure_that_is_none(
    readings: Readings, resolution: float
) -> None:
    result = result_of(readings, resolution=resolution, margin="0.5")
    assert not has_nan(result)
    assert not any("nan" in text.lower().split() for text in texts_in(result))
    for c in comparisons(result):
        assert 0 <= c.p <= 1
        assert c.budget.combined > 0
        assert c.budget.nu >= 1 - 1e-9
        assert c.interval[0] <= c.estimate <= c.interval[1]


@given(
    readings=tables(shown),
    drift=st.one_of(st.none(), st.floats(-5, 5)),
    deviation=st.one_of(st.none(), st.floats(-1, 1)),
    cut_s=st.floats(0, 100),
    closing=st.booleans(),
    spread=st.floats(0, 2),
)
@settings(max_examples=60, deadline=None, derandomize=True)
def test_any_checks_give_either_a_judgement_or_a_reason(
    readings: Readings,
    drift: float | None,
    deviation: float | None,
    cut_s: float,
    closing: bool,
    spread: float,
) -> None:
    doubt = reading_doubt(spread, 3, 0.1)
    brackets = [
        Bracket("bare", 0.0, cut_s, drift, 0.2, "", deviation, False, doubt, doubt),
        Bracket("bare", cut_s, 900.0 if closing else None, drift, 0.2, "", 0.0),
        Bracket("applied", 1000.0 + cut_s, None, None, 0.2),
    ]
    result = result_of(readings, brackets=brackets)
    assert not has_nan(result)
    assert len(result.comparisons) == 2
    for c in result.comparisons:
        assert c.sentence.endswith(".")
        if isinstance(c, Refusal):
            assert c.reason
            assert c.next_step
        else:
            low, high = c.interval
            assert high - low >= 2 * abs(c.budget.bias) * (1 - 1e-9)
            assert c.is_difference_shown == (not low <= 0 <= high)


@given(readings=tables(shown), order=st.randoms(use_true_random=False))
@settings(max_examples=30, deadline=None, derandomize=True)
def test_the_order_in_which_readings_are_handed_in_does_not_matter(
    readings: Readings, order: object
) -> None:
    plan, measure = plan_of(ZONES)
    brackets = [quiet("bare", 0), quiet("applied", 1000)]
    samples = samples_of(readings)
    shuffled = list(samples)
    order.shuffle(shuffled)  # type: ignore[attr-defined]
    assert measure_results(plan, measure, samples, brackets, 0.1) == measure_results(
        plan, measure, shuffled, brackets[::-1], 0.1
    )


@given(readings=tables(shown), shift=st.integers(-500, 500))
@settings(max_examples=30, deadline=None, derandomize=True)
def test_a_common_shift_of_all_readings_leaves_every_difference(
    readings: Readings, shift: int
) -> None:
    moved = {k: [v + shift for v in values] for k, values in readings.items()}
    before, after = figures(result_of(readings)), figures(result_of(moved))
    assert len(before) == len(after)
    for one, other in zip(before, after, strict=True):
        assert other == pytest.approx(one, rel=1e-6, abs=1e-9)


@given(readings=tables(shown), power=st.integers(-3, 3))
@settings(max_examples=30, deadline=None, derandomize=True)
def test_another_unit_scales_every_figure_and_changes_no_decision(
    readings: Readings, power: int
) -> None:
    # Powers of two, so that scaling is exact and nothing hides behind rounding.
    k = 2.0**power
    scaled = {place: [k * v for v in values] for place, values in readings.items()}
    one = result_of(readings, resolution=0.125, margin="0.5")
    other = result_of(scaled, resolution=0.125 * k, margin=str(Decimal(0.5 * k)))
    assert [c.decision for c in one.comparisons] == [c.decision for c in other.comparisons]
    for a, b in zip(comparisons(one), comparisons(other), strict=True):
        assert (b.estimate, b.budget.combined) == pytest.approx(
            (k * a.estimate, k * a.budget.combined), rel=1e-12
        )
        assert (a.p, a.critical_value) == pytest.approx((b.p, b.critical_value), rel=1e-9)


@given(
    control=st.lists(steps.map(float), min_size=2, max_size=6),
    treated=st.lists(steps.map(float), min_size=2, max_size=6),
)
@settings(max_examples=60, deadline=None, derandomize=True)
def test_with_one_treatment_the_net_change_is_judged_no_more_easily_than_by_welchs_test(
    control: list[float], treated: list[float]
) -> None:
    # Bare readings without scatter and in any number drop out of the test, and so does the display
    # where its step is zero. With scatter on one side alone it is Student's own test.
    bare = [50.0, 50.0]
    readings = {("control", "bare"): bare, ("wax", "bare"): bare}
    readings |= {("control", "applied"): control, ("wax", "applied"): treated}
    result = result_of(readings, resolution=0.0)
    (found,) = result.comparisons
    welch = two_sample(treated, control, Variances.SEPARATE)
    if welch.se == 0:
        assert isinstance(found, Refusal)
        return
    assert isinstance(found, Comparison)
    assert found.estimate == pytest.approx(welch.estimate, abs=1e-9)
    assert found.budget.combined == pytest.approx(welch.se)
    assert found.budget.nu == pytest.approx(welch.df)
    low, high = welch.interval()
    assert found.interval[0] <= low + 1e-9
    assert found.interval[1] >= high - 1e-9
    assert welch.p is not None
    assert found.p >= welch.p - 1e-9
    if min(len(set(control)), len(set(treated))) == 1:
        assert found.interval == pytest.approx((low, high), abs=1e-9)
        assert found.p == pytest.approx(welch.p, abs=1e-9)


@given(
    lambdas=st.lists(st.floats(0, 1), min_size=2, max_size=6),
    df=st.one_of(st.floats(1, 200), st.just(math.inf)),
)
@settings(max_examples=60, deadline=None, derandomize=True)
def test_a_joint_limit_is_wider_than_one_and_narrower_than_bonferronis(
    lambdas: list[float], df: float
) -> None:
    limit = dunnett.critical(tuple(lambdas), df)
    assert t_factor(df) * (1 - 2e-4) <= limit
    assert limit <= t_quantile(1 - 0.025 / len(lambdas), df) * (1 + 2e-4)
    assert dunnett.p_value(limit, tuple(lambdas), df) == pytest.approx(0.05, abs=1e-6)


@given(st.lists(any_finite, max_size=8), st.floats(0, 10))
@settings(derandomize=True)
def test_a_summary_answers_whatever_it_is_given(values: list[float], resolution: float) -> None:
    s = summarise(values, resolution)
    assert s.n == len(values)
    assert not has_nan(s)
    assert (s.mean is None) == (s.n == 0)
    assert (s.sd is None) == (s.n < 2)
    if s.mean is not None:
        assert min(values) - 1e-9 * abs(s.mean) <= s.mean <= max(values) + 1e-9 * abs(s.mean)


@given(
    st.lists(
        st.tuples(st.floats(0, 1e6), st.one_of(st.integers(1, 50), st.just(math.inf))),
        min_size=1,
        max_size=6,
    )
)
@settings(derandomize=True)
def test_effective_degrees_of_freedom_lie_between_the_least_and_all_together(
    terms: list[tuple[float, float]],
) -> None:
    result = welch_satterthwaite([u for u, _ in terms], [nu for _, nu in terms])
    assert result.nu >= min(nu for _, nu in terms) * (1 - 1e-9)
    if all(math.isfinite(nu) for _, nu in terms) and result.u > 0:
        assert result.nu <= sum(nu for _, nu in terms) * (1 + 1e-9)


@given(st.floats(-1e9, 1e9), st.floats(1e-6, 1e6))
@settings(derandomize=True)
def test_a_printed_figure_is_off_by_no_more_than_a_twentieth_of_its_uncertainty(
    value: float, u: float
) -> None:
    text = rounded(value, u)
    assert set(text) <= set("−0123456789.")
    # Half a unit of the second digit of u: at most 0.5 for u = 10.
    assert abs(float(text.replace("−", "-")) - value) <= 0.05 * u * (1 + 1e-6) + 1e-15 * abs(value)
    assert signed(value, u).lstrip("+") == text
