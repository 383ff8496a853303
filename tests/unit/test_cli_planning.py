"""What a plan could show: by the default of the bench, or by its study."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from acquire.analysis.planning import net_change_seen
from acquire.cli.planning import planning_lines
from acquire.model import StudyKind
from acquire.settings import config_dir, load_bench, load_plan
from tests.unit.analysis_bench import plan_of


def test_without_a_study_the_default_is_the_spread_that_the_check_lets_pass(
    tmp_path: Path,
) -> None:
    folder = config_dir() / "boatyard"
    bench = replace(load_bench(folder / "bench.toml"), store=tmp_path / "none.sqlite")
    lines = planning_lines(load_plan(folder / "trial.toml"), bench)
    told = "\n".join(lines)
    assert "no study is in use; the default is 0.50 GU" in told
    assert "coatbench study shore finds its own" in told
    assert "the margin of 1 GU: 9 readings" in told


def test_a_store_that_cannot_be_read_is_told_and_not_taken_for_one_without_studies(
    tmp_path: Path,
) -> None:
    folder = config_dir() / "boatyard"
    store = tmp_path / "broken.sqlite"
    store.write_text("no store")
    bench = replace(load_bench(folder / "bench.toml"), store=store)
    lines = planning_lines(load_plan(folder / "trial.toml"), bench)
    assert any(line.startswith("NOTE: studies in the store are left out") for line in lines)


def test_a_study_is_no_trial_to_be_planned() -> None:
    bench = load_bench(config_dir() / "boatyard" / "bench.toml")
    plan, _ = plan_of(["control", "wax"])
    assert planning_lines(replace(plan, study=StudyKind.REPEATABILITY), bench) == []


def test_one_reading_shows_something_only_with_a_study() -> None:
    assert net_change_seen(0.2, 1) is None
    seen = net_change_seen(0.2, 1, 45)
    # (t + z) u with u = 2 s, t = 2.014 and about 0.85 for 80 % (Student's t, from memory).
    assert seen == pytest.approx((2.014 + 0.85) * 2 * 0.2, rel=0.01)
