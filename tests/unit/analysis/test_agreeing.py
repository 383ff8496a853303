"""Readings that agree to the step of the display: how sure the mean of a zone is then."""

from __future__ import annotations

import math

import numpy as np
import pytest

from acquire.analysis.cells.contrast import value_of
from acquire.analysis.checks.bracket import Bracket
from acquire.analysis.samples.repeatability import Repeatability
from acquire.analysis.specimens.scatter import scatter_terms
from acquire.analysis.treatments.level import Level
from tests.unit.analysis.bench import result_of

STEP = 0.1
CHECKED = [Bracket("bare", 0.0, 900.0, drift=0.0, tile_u=1e-6, opening_deviation=0.0)]


def levels_of(*zones: tuple[float, ...]) -> tuple[Level, ...]:
    names = ("control", *(f"wax{k}" for k in range(1, len(zones))))
    readings = {(name, "bare"): values for name, values in zip(names, zones, strict=True)}
    return result_of(readings, brackets=CHECKED, resolution=STEP, replicates=2).levels


def held(sd_steps: float, readings: int, runs: int = 600) -> tuple[float, float]:
    """The part of intervals that hold the true mean: of all, and where the readings agree."""
    draw = np.random.default_rng(round(10 * sd_steps))
    true = 80 + draw.random(runs)
    read = np.round((true[:, None] + STEP * sd_steps * draw.standard_normal((runs, readings))) * 10)
    # As many at once as a trial may have.
    of_all, of_agreeing = [], []
    for first in range(0, runs, 60):
        some = [tuple((row / 10).tolist()) for row in read[first : first + 60]]
        for level, value in zip(levels_of(*some), true[first:], strict=False):
            assert level.budget is not None
            assert level.cell.mean is not None
            is_held = abs(level.cell.mean - value) <= level.budget.expanded
            of_all.append(is_held)
            if level.cell.summary.sd == 0:
                of_agreeing.append(is_held)
    return float(np.mean(of_all)), float(np.mean(of_agreeing))


@pytest.mark.parametrize("sd_steps", [0.3, 0.7, 1.0, 1.5, 2.0])
def test_an_interval_of_two_readings_holds_as_often_where_they_agree_by_chance(
    sd_steps: float,
) -> None:
    """By the resolution alone it held 87, 74, 56 and 43 of 100 from 0.7 steps on."""
    of_all, of_agreeing = held(sd_steps, 2)
    assert of_all > 0.93
    assert of_agreeing > 0.88


def test_two_readings_that_agree_are_as_sure_as_rounding_lets_them_be() -> None:
    (agree, differ) = levels_of((80.3, 80.3), (80.3, 80.4))
    assert agree.budget is not None
    assert differ.budget is not None
    (line,) = [t for t in agree.budget.terms if t.name.startswith("scatter in zone")]
    # JCGM 100:2008, F.2.2.1: the variance of a digital step is its square over 12.
    assert line.u == pytest.approx(STEP / math.sqrt(12) / math.sqrt(2))
    assert line.nu == 1
    assert "agree to the step of the display" in line.note
    assert 0.2 < agree.budget.expanded < differ.budget.expanded


def test_a_study_says_more_of_readings_that_agree_than_rounding_does() -> None:
    (agree,) = levels_of((80.3, 80.3))
    known = Repeatability(0.02, 30, 70.0, 90.0, "study 1 of 2026-11-20")
    (line,) = scatter_terms(value_of(agree.cell), known, STEP)
    assert line.contribution == pytest.approx(0.02 / math.sqrt(2))
    assert "study 1" in line.note


def test_readings_that_scatter_by_more_than_rounding_keep_their_own_scatter() -> None:
    (differ,) = levels_of((80.3, 80.5))
    (with_step,), (without,) = (
        scatter_terms(value_of(differ.cell), None, step) for step in (STEP, 0.0)
    )
    assert with_step == without
