"""What a plan could show: by the default of the bench, or by its study."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from acquire.analysis.plans.planning import net_change_seen, pair_seen
from acquire.analysis.plans.planzones import zones_seen
from acquire.cli.foretold import lacking_words, needed, seen_words
from acquire.cli.planning import planning_lines
from acquire.cli.scatters import Scatter
from acquire.model import StudyKind
from acquire.settings import config_dir, load_bench, load_plan
from tests.unit.analysis.bench import plan_of


def test_without_a_study_the_default_is_the_spread_that_the_check_lets_pass(
    tmp_path: Path,
) -> None:
    folder = config_dir() / "boatyard"
    bench = replace(load_bench(folder / "bench.toml"), store=tmp_path / "none.sqlite")
    lines = planning_lines(load_plan(folder / "trial.toml"), bench)
    told = "\n".join(lines)
    assert "no study is in use; the default is 0.50 GU" in told
    assert "coatbench study shore finds its own" in told
    # Five treatments share the level: one alone would take 9.
    assert "with five treatments compared at once, without drift" in told
    assert "the margin of 1 GU: 14 readings" in told
    assert "with all pairs of 5 held against each other" in told


def test_a_store_that_cannot_be_read_is_told_and_not_taken_for_one_without_studies(
    tmp_path: Path,
) -> None:
    folder = config_dir() / "boatyard"
    store = tmp_path / "broken.sqlite"
    store.write_text("no store")
    bench = replace(load_bench(folder / "bench.toml"), store=store)
    lines = planning_lines(load_plan(folder / "trial.toml"), bench)
    assert any(line.startswith("NOTE: studies in the store are left out") for line in lines)


def test_a_measure_without_a_bare_or_a_later_stage_is_promised_no_change() -> None:
    bench = load_bench(config_dir() / "boatyard" / "bench.toml")
    plan = load_plan(config_dir() / "boatyard" / "trial.toml")
    (gloss, *_) = plan.measures
    for stages in ("bare",), ("applied", "wash-5"):
        told = planning_lines(replace(plan, measures=(replace(gloss, stages=stages),)), bench)
        named = f"stage{'s' if len(stages) > 1 else ''} {', '.join(stages)}"
        assert told == [
            "",
            f"planning {gloss.id}: read at the {named} alone, so that it shows no change against "
            "bare and no treatment is judged by it",
        ]


def test_a_study_is_no_trial_to_be_planned() -> None:
    bench = load_bench(config_dir() / "boatyard" / "bench.toml")
    plan, _ = plan_of(["control", "wax"])
    assert planning_lines(replace(plan, study=StudyKind.REPEATABILITY), bench) == []


def test_one_reading_shows_something_only_with_a_study() -> None:
    assert net_change_seen(0.2, 1) is None
    seen = net_change_seen(0.2, 1, 45)
    # (t + z) u with u = 2 s, t = 2.014 and about 0.85 for 80 % (Student's t, from memory).
    assert seen == pytest.approx((2.014 + 0.85) * 2 * 0.2, rel=0.01)


@pytest.mark.parametrize("treatments", [1, 2, 3, 6])
@pytest.mark.parametrize("nu", [9.0, 25.0, 60.0])
def test_with_a_study_more_readings_never_show_less_than_fewer(treatments: int, nu: float) -> None:
    seen = [net_change_seen(0.2, n, nu, treatments) for n in (1, 2, 3, 4, 5, 7, 10, 20)]
    assert all(a is not None and b is not None and b < a for a, b in pairwise(seen))


@pytest.mark.parametrize(("readings", "nu"), [(2, 10), (2, 45), (3, 25), (5, 10), (10, 45)])
def test_what_a_plan_with_a_study_promises_is_shown_in_80_of_100_trials(
    readings: int, nu: int
) -> None:
    """Drawn by plain arithmetic, three treatments: the larger scatter of both, and its limit."""
    seen = net_change_seen(1.0, readings, nu, 3)
    assert seen is not None
    draw, runs = np.random.default_rng(readings * nu), 40_000
    study = draw.chisquare(nu, (1, runs)) / nu
    own = draw.chisquare(readings - 1, (4, runs)) / (readings - 1)
    level = 1 - 0.95 ** (1 / 3)
    z, of_study, of_both, of_own = (
        float(stats.t.isf(level / 2, m)) for m in (1e9, nu, nu + readings - 1, readings - 1)
    )
    lent = np.where(own <= study, study, 0.0).sum(axis=0)
    read = np.where(own <= study, 0.0, own)
    t = np.where(own > study * stats.f.isf(0.001, readings - 1, nu), of_own, of_both)
    widest = np.maximum((of_study**2 - z * z) * lent, ((t * t - z * z) * read).max(axis=0))
    half = np.sqrt((z * z * (lent + read.sum(axis=0)) + widest) / readings)
    found = seen + 2 / math.sqrt(readings) * draw.standard_normal(runs)
    assert float(np.mean(np.abs(found) > half)) == pytest.approx(0.8, abs=0.008)


def test_what_past_trials_scattered_by_is_lent_to_no_reading() -> None:
    past = Scatter(0.2, 45.0, "by past trials", None, "")
    study = past._replace(is_of_study=True)
    of_past, of_study = (
        seen_words(scatter, 1, 1, 1, " GU", is_paired=False) for scatter in (past, study)
    )
    assert of_past == "1 reading of the one zone a product shows nothing without a study"
    assert "show a net change of 1.1" in of_study


def test_more_treatments_need_a_larger_difference_and_pairs_the_largest() -> None:
    alone, six = (net_change_seen(0.2, 5, treatments=k) for k in (1, 6))
    pairs = pair_seen(0.2, 5, treatments=6)
    assert alone is not None
    assert six is not None
    assert pairs is not None
    assert alone < six < pairs
    # Two treatments are one difference, held at the full level.
    assert pair_seen(0.2, 5, treatments=2) == net_change_seen(0.2, 5)
    assert pair_seen(0.2, 1) is None
    with pytest.raises(ValueError, match="2 treatments"):
        pair_seen(0.2, 5, treatments=1)


def test_one_treatment_is_planned_as_one_product_and_its_control() -> None:
    bench = load_bench(config_dir() / "boatyard" / "bench.toml")
    plan, _ = plan_of(["control", "wax"], channels=("20",))
    told = "\n".join(planning_lines(plan, bench))
    assert "one product and its control, without drift" in told
    assert "to be told from" not in told


def test_zones_of_the_control_that_tell_for_single_ones_are_named_beside_the_figures() -> None:
    """Results go by three zones of one treatment; what readings alone would show is more."""
    bench = load_bench(config_dir() / "boatyard" / "bench.toml")
    told = "tell how zones differ, for those with one zone as well"
    three, two = (
        planning_lines(plan_of([*zones, "wax"], channels=("20",))[0], bench)
        for zones in (("control1", "control2", "control3"), ("control1", "control2"))
    )
    assert told in three[-1]
    assert told not in "\n".join(two)


def test_what_readings_of_the_zones_of_a_grid_do_not_show_is_not_said_of_other_zones() -> None:
    """Two zones each of five products in blocks show 1.8 GU; five zones show the 1 GU wanted."""
    scatter = Scatter(0.31, 25.0, "by a study", None, "")
    wanted = Decimal(1)
    tried = needed(scatter, 1.0, 5, 2, is_paired=True)
    assert tried.is_enough is False
    told = lacking_words(tried, scatter, wanted, " GU", 5, 2, is_paired=True)
    assert told == (
        "no sensible number of readings of 2 zones a product shows 1 GU; 4 readings of each of 5 "
        "zones a product would"
    )
    assert zones_seen(0.31, 0.31, 4, 5, 5, 25.0, is_paired=True) == pytest.approx(0.95, abs=0.01)
    # Where no other zones do either, none is named.
    never = needed(scatter, 0.01, 5, 2, is_paired=True)
    least = lacking_words(never, scatter, Decimal("0.01"), " GU", 5, 2, is_paired=True)
    assert least == "no sensible number of readings of 2 zones a product shows 0.01 GU"
    free = needed(scatter, 0.01, 5, is_paired=True)
    said = lacking_words(free, scatter, Decimal("0.01"), " GU", 5, is_paired=True)
    assert said == "no sensible number of zones and readings shows 0.01 GU"
