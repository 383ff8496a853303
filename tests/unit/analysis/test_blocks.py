"""Differences within complete blocks, held against the paired t test and the analysis of variance.

The second opinions are scipy's ``ttest_rel`` and statsmodels' least squares by treatment and block.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy import stats
from statsmodels.regression.linear_model import OLS

from acquire.analysis.budgetproof import proof_of
from acquire.analysis.cells.contrast import change_of
from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.laws.dunnett import critical
from acquire.analysis.places.standing import standing
from acquire.analysis.results import MeasureResult, measure_results
from acquire.analysis.scoring.gains import gains
from acquire.analysis.specimens.blocks import complete_blocks, own_spreads
from acquire.analysis.treatments.decision import Decision
from acquire.analysis.treatments.pairing import arm_of
from acquire.model.scorecard import Base
from tests.unit.analysis.bench import BARE, judged, plan_of, quiet, samples_of

# Blocks that lie 3 GU apart, treatments a few tenths.
SUN = (0.0, -3.1, 2.2, -5.4, 1.3)
CONTROL = tuple(sun + e for sun, e in zip(SUN, (0.0, 0.1, -0.1, 0.05, -0.05), strict=True))
WAX = tuple(sun + 0.6 + e for sun, e in zip(SUN, (0.1, -0.1, 0.0, 0.1, 0.05), strict=True))
OIL = tuple(sun - 0.5 + e for sun, e in zip(SUN, (-0.05, 0.1, 0.15, -0.1, 0.0), strict=True))

Changes = Mapping[str, Sequence[float]]
ALL: Changes = {"control": CONTROL, "wax": WAX, "oil": OIL}
NAMES = {"wax": "Wax", "oil": "Oil"}


def least_squares(changes: Changes) -> Any:
    """Changes by block and treatment, without interaction; the last treatment comes last."""
    blocks, k = np.eye(len(SUN)), len(changes)
    treatments = np.repeat(np.eye(k), len(SUN), axis=0)[:, 1:]
    design = np.hstack([np.tile(blocks, (k, 1)), treatments])
    return OLS(np.concatenate([list(v) for v in changes.values()]), design).fit()


def in_blocks(changes: Changes, blocks: Sequence[int] = (1, 2, 3, 4, 5)) -> MeasureResult:
    """Zones whose readings change by exactly so much, one of each treatment in each block."""
    by_zone = {f"{t}{k}": c for t, values in changes.items() for k, c in enumerate(values)}
    plan, measure = plan_of(list(by_zone))
    zones = tuple(replace(z, block=blocks[int(z.id[-1])]) for z in plan.zones)
    readings = {
        (z, stage): tuple(v + (c if stage == "applied" else 0.0) for v in BARE)
        for stage in ("bare", "applied")
        for z, c in by_zone.items()
        if not math.isnan(c)
    }
    brackets = [quiet("bare", 0.0), quiet("applied", 1000.0)]
    (found,) = measure_results(
        replace(plan, zones=zones), measure, samples_of(readings), brackets, 0.0
    )
    return found


def test_of_several_treatments_it_is_the_analysis_of_variance_with_all_of_them() -> None:
    result, fit = in_blocks(ALL), least_squares(ALL)
    for treatment, estimate in zip(("wax", "oil"), fit.params[-2:], strict=True):
        comparison = judged(result, treatment)
        (line, *_) = comparison.budget.terms
        assert comparison.blocks == 5
        assert line.name == f"spread of the differences within blocks, {treatment} less control"
        assert comparison.estimate == pytest.approx(estimate)
        # The two themselves, where they spread more than all together.
        own = stats.sem(np.subtract(ALL[treatment], CONTROL))
        assert line.u == pytest.approx(max(own, fit.bse[-1]))
        assert line.nu == fit.df_resid
        assert comparison.budget.combined == pytest.approx(line.u)
        limit = critical((math.sqrt(0.5),) * 2, fit.df_resid)  # Dunnett's
        assert comparison.budget.expanded == pytest.approx(limit * line.u)


def test_a_difference_of_two_treatments_alone_is_that_of_the_paired_t_test() -> None:
    (alone,) = in_blocks({"control": CONTROL, "wax": WAX}).comparisons
    assert isinstance(alone, Comparison)
    assert alone.p == pytest.approx(stats.ttest_rel(WAX, CONTROL).pvalue, rel=1e-6)


def test_of_two_treatments_it_is_the_analysis_of_variance_by_treatment_and_block() -> None:
    (alone,) = in_blocks({"control": CONTROL, "wax": WAX}).comparisons
    fit = least_squares({"control": CONTROL, "wax": WAX})
    assert isinstance(alone, Comparison)
    # Of one degree of freedom F is t squared, and its p that of t.
    assert alone.estimate == pytest.approx(fit.params[-1])
    assert alone.budget.combined == pytest.approx(fit.bse[-1])
    assert alone.p == pytest.approx(fit.pvalues[-1], rel=1e-6)


def test_within_blocks_smaller_differences_are_seen_and_the_page_says_why() -> None:
    result = in_blocks(ALL)
    loose = in_blocks(ALL, (1, 1, 1, 1, 1))
    assert judged(result, "wax").decision is Decision.BETTER
    assert judged(loose, "wax").decision is Decision.NOT_SHOWN
    assert judged(result, "wax").smallest_visible < judged(loose, "wax").smallest_visible / 5
    assert any("compared within them" in rule for rule in result.rules)
    assert not any("compared within them" in rule for rule in loose.rules)
    assert any("spreads over 5 blocks" in text for text in judged(result, "wax").caveats)


def test_a_zone_that_was_not_read_leaves_the_spread_of_all_zones_and_that_is_said() -> None:
    result = in_blocks({**ALL, "wax": (*WAX[:4], math.nan)})
    wax, oil = judged(result, "wax"), judged(result, "oil")
    assert (wax.blocks, oil.blocks) == (0, 5)
    assert any(
        "Not compared within blocks, but by the spread of all zones: block 5 has no zone of both "
        "that was read." in text
        for text in wax.caveats
    )


def test_treatments_that_were_read_in_every_block_tell_of_those_that_lost_one() -> None:
    gone = (math.nan, *CONTROL[1:])
    lost = in_blocks({**ALL, "control": gone, "wax": (math.nan, *WAX[1:])})
    (line, *_) = judged(lost, "wax").budget.terms
    # The table of four blocks, whole rows cut to them.
    assert line.nu == 3 * 2
    assert judged(lost, "wax").blocks == 4


def test_blocks_in_which_a_treatment_lacks_or_is_oftener_are_none() -> None:
    plan, _ = plan_of(["control0", "control1", "wax0", "wax1"])
    for blocks, complete in (((1, 2, 1, 2), True), ((1, 2, 1, 1), False), ((1, 1, 1, 1), False)):
        zones = tuple(replace(z, block=b) for z, b in zip(plan.zones, blocks, strict=True))
        assert bool(complete_blocks(replace(plan, zones=zones))) is complete
    assert not complete_blocks(plan)


def test_the_spreads_of_single_treatments_are_those_of_the_residuals() -> None:
    result = in_blocks(ALL)
    blocks = result.basis.blocks
    changes = [
        change_of(arm_of(t, t, [c for c in result.judged if c.treatment == t], "applied", "bare")
                  .pairs)
        for t in ALL
    ]  # fmt: skip
    spreads = own_spreads(changes, blocks)
    assert spreads is not None
    fit = least_squares(ALL)
    left = fit.resid.reshape(3, 5)
    own = [float((row**2).sum()) / 4 * 3 / 2 for row in left]
    assert np.mean(own) == pytest.approx(fit.mse_resid)
    for (u, nu), variance in zip(spreads, own, strict=True):
        assert nu == fit.df_resid == 8
        assert 5 * u**2 == pytest.approx(max(variance, fit.mse_resid))
    two = own_spreads(changes[:2], blocks)
    assert two is not None
    both = stats.sem(np.subtract(CONTROL, WAX)) ** 2
    assert [nu for _, nu in two] == [4, 4]
    assert sum(u**2 for u, _ in two) == pytest.approx(both)


def test_pairs_places_points_and_proof_go_by_the_same_differences() -> None:
    result = in_blocks(ALL)
    found = standing(result, NAMES, "applied", draws=2000)
    assert found is not None
    assert found.chances is not None
    (pair,) = found.pairs
    assert pair.evaluation.blocks == 5
    assert "within 5 blocks" in pair.rule
    fit = least_squares(ALL)
    u = max(math.sqrt(2 * fit.mse_resid / 5), stats.sem(np.subtract(WAX, OIL)))
    apart = np.mean(WAX) - np.mean(OIL)
    assert pair.p == pytest.approx(2 * stats.t.sf(apart / u, fit.df_resid), rel=1e-3)
    assert found.chances.first[0] > 0.99
    wax, oil = gains(result, tuple(NAMES.items()), "applied", Base.BOTH)
    assert (wax.is_shown, oil.is_shown) == (True, True)
    assert wax.evaluation is not None
    assert [t.name for t in wax.evaluation.terms[:2]] == [
        "spread of the zones of wax", "spread of the zones of control",
    ]  # fmt: skip
    assert proof_of(judged(result, "wax"), result, draws=20_000).holds
