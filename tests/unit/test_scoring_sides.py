"""Several zones a treatment: what the drawn errors of two treatments share is the control's."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import spearmanr

from acquire.analysis.results import MeasureResult, measure_results
from acquire.analysis.scoring.errors import Floats, drawn_errors
from acquire.analysis.scoring.gains import gains
from acquire.analysis.scoring.sidelines import BEYOND, SPREAD
from acquire.model.scorecard import Base
from tests.unit.analysis.bench import plan_of, quiet, samples_of
from tests.unit.score_bench import change, scored

TREATMENTS = ("control", "wax", "seal", "oil")
PRODUCTS = [(t, t) for t in TREATMENTS[1:]]
# Three zones each, of one spread: a standard deviation of 1 within every treatment.
CHANGES = {"control": (-1.0, 0.0, 1.0), "wax": (2.0, 1.0, 3.0), "seal": (1.0, 2.0, 0.0),
           "oil": (0.0, 1.0, -1.0)}  # fmt: skip


def readings_of(changes: dict[str, tuple[float, ...]], left_out: tuple[str, ...] = ()) -> dict[
    tuple[str, str], tuple[float, ...]
]:  # fmt: skip
    found = {}
    for treatment, each in changes.items():
        for number, step in enumerate(each, 1):
            zone = f"{treatment}{number}"
            if zone not in left_out:
                found[zone, "bare"] = (60.0, 60.1, 59.9)
                found[zone, "applied"] = (60.0 + step, 60.1 + step, 59.9 + step)
    return found


def result_of(*left_out: str, is_blocked: bool = False, products: int = 3) -> MeasureResult:
    changes = {t: CHANGES[t] for t in TREATMENTS[: products + 1]}
    zones = [f"{t}{n}" for t in changes for n in (1, 2, 3)]
    plan, measure = plan_of(zones)
    if is_blocked:
        blocked = tuple(replace(zone, block=int(zone.id[-1])) for zone in plan.zones)
        plan = replace(plan, zones=blocked)
    around = [replace(quiet(s, 1000.0 * i), tile_u=0.0) for i, s in enumerate(("bare", "applied"))]
    samples = samples_of(readings_of(changes, left_out))
    (result,) = measure_results(plan, measure, samples, around, 1e-6)
    return result


def errors_of(result: MeasureResult, products: int = 3) -> Floats:
    found = gains(result, PRODUCTS[:products], "applied", Base.BOTH)
    return drawn_errors("gloss", found, result.control, result.basis, 20_000)


def test_two_products_share_half_of_their_variance_where_zones_are_alike() -> None:
    # Var(a - c) = Var(b - c) = 2 v, Cov = v: the correlation is 1/2, whatever zones tell v.
    correlation = np.corrcoef(errors_of(result_of()))
    assert correlation[np.triu_indices(3, 1)] == pytest.approx([0.5] * 3, abs=0.03)


def test_the_difference_to_the_control_is_drawn_as_wide_as_results_have_it() -> None:
    result = result_of()
    for gain in gains(result, PRODUCTS, "applied", Base.BOTH):
        budget = result.comparison(gain.treatment, "applied").budget  # type: ignore[union-attr]
        assert gain.evaluation is not None
        lines = [t for t in gain.evaluation.terms if t.name.startswith(SPREAD)]
        assert [t.nu for t in lines] == [8, 8]
        of_scatter = np.hypot(*(t.contribution for t in lines))
        assert of_scatter == pytest.approx(budget.terms[0].contribution)


@pytest.mark.parametrize("left_out", [("wax1",), ("wax1", "wax2"), ("wax1", "control1")])
def test_a_product_that_lost_zones_of_its_blocks_keeps_the_control_it_shares(
    left_out: tuple[str, ...],
) -> None:
    result = result_of(*left_out, is_blocked=True)
    blocks = {bool(c.blocks) for c in result.comparisons}  # type: ignore[union-attr]
    assert blocks == {True, False}
    correlation = np.corrcoef(errors_of(result))[0, 1:]
    assert (correlation > 0.2).all()
    assert (correlation < 0.8).all()


def test_a_product_with_one_zone_left_beside_one_of_two_shares_the_control() -> None:
    # Of the pair with zones on both sides each side tells its own; the other has what all tell.
    result = result_of("wax1", "wax2", products=2)
    found = gains(result, PRODUCTS[:2], "applied", Base.BOTH)
    names = [[t.name for t in g.evaluation.terms] for g in found if g.evaluation]
    assert all(f"{SPREAD}control" in each for each in names)
    assert not any(name.endswith(BEYOND) for each in names for name in each)
    # By ranks: t of two degrees of freedom has no variance.
    assert 0.2 < spearmanr(*errors_of(result, 2)).statistic < 0.7


def test_against_the_control_alone_a_product_with_one_zone_shares_the_control_too() -> None:
    result = result_of("wax1", "wax2")
    found = gains(result, PRODUCTS, "applied", Base.CONTROL)
    names = [[t.name for t in g.evaluation.terms] for g in found if g.evaluation]
    assert all(each.count(f"{SPREAD}control") == 1 for each in names)
    # Of its own zone nothing but the readings tells.
    assert names[0][0] == "scatter in zone wax3, applied"
    errors = drawn_errors("gloss", found, result.control, result.basis, 20_000)
    assert spearmanr(errors[0], errors[1]).statistic > 0.5


def test_a_line_that_is_better_known_at_one_stage_than_at_another_errs_the_same_way() -> None:
    result = result_of()
    gain = gains(result, PRODUCTS[:1], "applied", Base.BOTH)[0]
    assert gain.evaluation is not None
    terms = tuple(t._replace(nu=t.nu - 2) for t in gain.evaluation.terms)
    other = replace(gain, evaluation=replace(gain.evaluation, terms=terms))
    errors = drawn_errors("gloss", [gain, other], result.control, result.basis, 20_000)
    assert np.corrcoef(errors)[0, 1] > 0.8


def test_of_products_that_do_nothing_hardly_ever_is_one_first_alone() -> None:
    chance = np.random.default_rng(11)
    alone = 0
    for _ in range(12):
        drawn = {t: tuple(chance.normal(size=3)) for t in TREATMENTS}
        points = scored(readings_of(drawn), change(points="10"), draws=500)
        alone += points.products[0].place == "1"
    assert alone <= 2
