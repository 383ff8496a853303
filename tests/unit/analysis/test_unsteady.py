"""What one zone keeps and how long it lasts, where zones read otherwise from stage to stage.

The law is drawn: exponential courses of known half-life, each mean of a zone at a stage off by a
normal error of its own that is in none of its readings.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import statsmodels.api as sm

from acquire.analysis.durability.course import Course
from acquire.analysis.durability.unsteady import Unsteady, unsteady_of
from acquire.analysis.durability.washresult import WashResult
from acquire.analysis.results import MeasureResult
from acquire.report.washing.washrules import wash_rules
from tests.unit.analysis.bench import result_of
from tests.unit.wash_bench import HALF, STAGES, only, readings_of, washed

_GAIN = 8.0
_COUNTS = (0, 5, 10, 20)


def _result(zones: tuple[str, ...], seed: int) -> MeasureResult:
    source = np.random.default_rng(seed)
    return result_of(
        {(z, s): source.normal(80, 1, 3).tolist() for z in zones for s in ("bare", "a", "b", "c")},
        resolution=0.0,
    )


@pytest.mark.parametrize("seed", range(5))
def test_the_control_tells_it_as_a_fit_of_zones_and_stages_leaves_it(seed: int) -> None:
    """Second opinion: the mean square of residuals of statsmodels' least squares."""
    result = _result(("control1", "control2", "control3", "wax"), seed)
    found = unsteady_of(("control1", "control2", "control3"), result.judged)
    assert found is not None
    own = [c for c in result.judged if c.treatment == "control"]
    zones, stages = ([*dict.fromkeys(x)] for x in ([c.zone for c in own], [c.stage for c in own]))
    design = np.array(
        [[1.0, *(c.zone == z for z in zones[1:]), *(c.stage == s for s in stages[1:])] for c in own]
    )
    fit = sm.OLS(np.array([c.mean for c in own]), design).fit()
    assert found.sd == pytest.approx(math.sqrt(fit.mse_resid), rel=1e-10)
    assert found == Unsteady(found.sd, int(fit.df_resid), is_of_control=True)


def test_levels_of_zones_and_steps_of_stages_are_not_in_it() -> None:
    levels = {"control1": 80.0, "control2": 95.0, "wax": 60.0}
    steps = {"bare": 0.0, "applied": -3.0, "wash": 7.0}
    result = result_of({(z, s): [v + d] * 2 for z, v in levels.items() for s, d in steps.items()})
    found = unsteady_of(("control1", "control2"), result.judged)
    assert found is not None
    assert found.sd == pytest.approx(0, abs=1e-12)
    assert found.nu == 2


def test_other_treatments_tell_it_where_the_control_has_one_zone_and_single_zones_do_not() -> None:
    several = _result(("control", "wax1", "wax2", "oil1", "oil2", "tar"), 1)
    found = unsteady_of(("control",), several.judged)
    assert found is not None
    assert (found.nu, found.is_of_control) == (2 * (2 - 1) * (4 - 1), False)
    assert unsteady_of(("control",), _result(("control", "wax", "oil"), 1).judged) is None


def test_a_stage_that_one_zone_lacks_leaves_the_others() -> None:
    result = _result(("control1", "control2", "wax"), 3)
    some = [c for c in result.judged if (c.zone, c.stage) != ("control2", "b")]
    found = unsteady_of(("control1", "control2"), some)
    assert found is not None
    assert found.nu == (2 - 1) * (3 - 1)
    gone = [c for c in some if c.zone != "control1" or c.stage == "bare"]
    assert unsteady_of(("control1", "control2"), gone) is None


def _trial(source: np.random.Generator, control: int, off: float) -> tuple[WashResult, float]:
    """One zone of wax, readings that scatter by a fiftieth of the gain, and its half-life."""
    half = float(source.uniform(3, 30))
    kept = [0.0, *(_GAIN * 0.5 ** (n / half) for n in _COUNTS)]
    levels = {f"control{k}": [0.0] * len(STAGES) for k in range(1, control + 1)} | {"wax": kept}
    true = {
        zone: [80 + v + float(source.normal(0, off * _GAIN)) for v in row]
        for zone, row in levels.items()
    }
    found = washed(readings_of(true, source=source))
    assert found is not None
    return found, half


def _missed(control: int, off: float, trials: int) -> tuple[float, float]:
    """The parts of shares of which the interval misses the truth, and of lives that do."""
    source = np.random.default_rng(11)
    shares = misses = lives = false = 0
    for _ in range(trials):
        found, half = _trial(source, control, off)
        wax = only(found)
        for look, kept in wax.wear.kept:
            if kept.low is not None and kept.high is not None:
                shares += 1
                misses += not kept.low <= 0.5 ** (look.washes / half) <= kept.high
        for zone in wax.zones:
            if zone.life is not None:
                lives += 1
                false += not zone.life.low <= half <= zone.life.high
    assert min(shares, lives) > trials / 2
    return misses / shares, false / lives


@pytest.mark.parametrize("off", [0.02, 0.08])
def test_zones_of_the_control_make_what_is_said_of_one_zone_hold(off: float) -> None:
    """At 95 %: at most 5 of 100 may miss; 60 trials give some chance to three more."""
    misses, false = _missed(3, off, 60)
    assert misses <= 0.08
    assert false <= 0.04


def test_a_control_of_one_zone_tells_nothing_and_the_page_says_how_often_that_misses() -> None:
    """Without them more than a third of the intervals miss: what the test above would find."""
    misses, _ = _missed(1, 0.05, 40)
    assert misses > 1 / 3
    found, _ = _trial(np.random.default_rng(2), 1, 0.05)
    said = " ".join(wash_rules(found, HALF))
    assert "they hold for what was read" in wash_rules(found, HALF)[1]
    assert "by 5 % about 60" in said
    assert "in 24, 60 and 75 of 100" in said


def test_the_page_says_by_how_much_zones_of_the_control_read_otherwise() -> None:
    found, _ = _trial(np.random.default_rng(2), 3, 0.05)
    assert found.unsteady is not None
    said = " ".join(wash_rules(found, HALF))
    assert "zones of the control read otherwise from stage to stage (by " in said
    assert "8 degrees of freedom" in said
    assert "about 60" not in said


def test_the_budget_has_one_line_for_zones_from_stage_to_stage() -> None:
    found, _ = _trial(np.random.default_rng(3), 3, 0.05)
    kept = only(found).wear.kept[0][1]
    assert kept.budget is not None
    assert found.unsteady is not None
    (line,) = [t for t in kept.budget.terms if t.name == "zones from stage to stage"]
    assert (line.u, line.nu) == (found.unsteady.sd, found.unsteady.nu)
    # Weights of treated less control: one zone against the mean of three.
    weights = [kept.share - 1, -kept.share, 1.0] if kept.share is not None else []
    assert line.sensitivity == pytest.approx(math.hypot(*weights) * math.sqrt(1 + 1 / 3), rel=1e-6)


def test_readings_that_scatter_more_stand_where_they_reach_farther() -> None:
    source = np.random.default_rng(5)
    levels = {f"control{k}": [80.0] * 5 for k in (1, 2, 3)} | {
        "wax": [80.0, 88.0, 86.0, 84.0, 82.0]
    }
    readings = readings_of(levels, (-0.3, 0.3), source)
    readings |= {
        ("wax", s): [v - 1.0, v, v + 1.0] for s, v in zip(STAGES, levels["wax"], strict=True)
    }
    found = washed(readings)
    kept = only(found).wear.kept[0][1]
    assert kept.budget is not None
    names = [t.name for t in kept.budget.terms]
    assert "scatter in zone wax, bare" in names
    assert "zones from stage to stage" not in names


def test_a_course_without_other_zones_is_judged_by_its_readings() -> None:
    assert Course({}, {}, 1.0, _result(("control", "wax"), 1).basis).unsteady is None
