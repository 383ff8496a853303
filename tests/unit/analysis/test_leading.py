"""The best treatment against each other one: reckoned by hand, and how often it errs."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from numpy.random import default_rng
from scipy import stats

from acquire.analysis.budget.uncertainty import Combined
from acquire.analysis.checks.meterscale import EXACT
from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.comparisons.leading import Lead, ranked
from acquire.analysis.results import Bracket, MeasureResult, Sample, measure_results
from acquire.analysis.treatments.decision import Decision
from acquire.model import Order
from tests.unit.analysis.bench import plan_of
from tests.unit.analysis.drifts import Scenario, ahead_rate, allowance, trial_result

ZONES = ("control", "wax", "seal", "tar")
CHANGES = {"control": 0.0, "wax": 1.0, "seal": 2.0, "tar": 1.9}


def three(
    margin: str | None = None,
    *,
    higher_is_better: bool = True,
    drifts: tuple[float, float] = (0.0, 0.0),
    doubt: Combined = EXACT,
) -> MeasureResult:
    """Three readings a cell with a standard deviation of 0.1, zone after zone, ten seconds each."""
    plan, measure = plan_of(ZONES, replicates=3, margin=margin, higher_is_better=higher_is_better)
    samples, brackets = [], []
    for index, stage in enumerate(("bare", "applied")):
        start = 1000.0 * index
        around = Bracket(stage, start, start + 130.0, drifts[index], 0.2, "", 0.0)
        brackets.append(replace(around, opening_doubt=doubt, closing_doubt=doubt))
        for k, zone in enumerate(ZONES):
            for n, off in enumerate((-0.1, 0.0, 0.1)):
                value = 80.0 + off + CHANGES[zone] * index
                at_s = start + 10.0 * (3 * k + n + 1)
                samples.append(
                    Sample(zone, zone, stage, n + 1, "60", value, at_s, len(samples) + 1)
                )
    (result,) = measure_results(plan, measure, samples, brackets, 0.0)
    return result


def lead(result: MeasureResult, rival: str) -> Lead:
    (found,) = [x for x in result.leads if x.rival == rival]
    return found


def test_the_best_is_held_against_each_other_treatment_by_the_limit_of_all_pairs() -> None:
    result = three()
    assert [(x.leader, x.rival) for x in result.leads] == [("seal", "tar"), ("seal", "wax")]
    # Four means of three readings, each a quarter of the variance with two degrees of freedom;
    # the range of three treatments, and no less than Student's t for two of them together.
    u = 0.1 * math.sqrt(4 / 3)
    z = float(stats.studentized_range.ppf(0.95, 3, 1e9)) / math.sqrt(2)
    t = float(stats.t.isf((1 - 0.95**0.5) / 2, 2))
    assert t > float(stats.studentized_range.ppf(0.95, 3, 2)) / math.sqrt(2)
    reach = math.sqrt(0.75 * z**2 + 0.25 * t**2) * u
    for rival, ahead, decision in (("tar", 0.1, Decision.NOT_SHOWN), ("wax", 1.0, Decision.BETTER)):
        found = lead(result, rival)
        assert found.pairs == 3
        assert found.ahead == pytest.approx(ahead)
        assert found.reach == pytest.approx(reach)
        assert found.decision is decision


def test_a_known_drift_widens_a_lead_by_its_full_size() -> None:
    # The wax is read 30 s of 130 s before the seal. Drifts of the stages that go the same way
    # cancel in the changes, opposed ones add up; what their course leaves unknown is the same.
    alike, opposed = (lead(three(drifts=(sign * 0.4, 0.4)), "wax") for sign in (1, -1))
    assert opposed.reach - alike.reach == pytest.approx(2 * 0.4 * 30 / 130)
    assert opposed.ahead == pytest.approx(alike.ahead) == pytest.approx(1.0)


def test_where_lower_is_better_the_lowest_leads() -> None:
    result = three(higher_is_better=False)
    assert [(x.leader, x.rival) for x in result.leads] == [("wax", "tar"), ("wax", "seal")]
    assert lead(result, "seal").ahead == pytest.approx(1.0)
    order = ranked(result.comparisons, higher_is_better=False)
    assert [c.treatment for c in order] == ["wax", "tar", "seal"]


def test_a_lead_that_is_wholly_inside_the_margin_is_no_lead() -> None:
    assert lead(three("1.0"), "tar").decision is Decision.EQUAL
    assert lead(three("0.2"), "tar").decision is Decision.NOT_SHOWN
    assert lead(three("1.0"), "wax").decision is Decision.BETTER


def test_one_treatment_alone_leads_nobody() -> None:
    result = trial_result(Scenario("linear", (0.0, 0.0)), default_rng(1))
    assert result.leads == ()
    assert isinstance(result.comparisons[0], Comparison)


@pytest.mark.parametrize(
    ("drifts", "order", "runs"),
    [((0.0, 0.0), Order.INTERLEAVED, 120), ((-0.6, 0.6), Order.BY_ZONE, 40)],
)
def test_alike_treatments_are_called_ahead_in_at_most_five_of_a_hundred_trials(
    drifts: tuple[float, float], order: Order, runs: int
) -> None:
    """More courses and runs: ``python -m tests.unit.analysis.drifts`` (its last lines)."""
    scenario = Scenario("linear", drifts, order, treatments=4, replicates=3)
    assert ahead_rate(scenario, runs) <= 0.05 + allowance(runs)
