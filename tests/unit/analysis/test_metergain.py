"""A meter that errs in proportion to the reading: what of it is in a difference, and what is not.

The rule for a known effect that is left in is JCGM 100:2008, F.2.4.5: its full size is added to the
expanded uncertainty. Figures of the tests are worked out by hand beside them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest

from acquire.analysis.budget.uncertainty import Budget, Combined
from acquire.analysis.checks.bracket import Bracket
from acquire.analysis.checks.gaugezero import Zero, zero_off
from acquire.analysis.checks.meterscale import Beside
from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.correction import corrected_measure
from acquire.analysis.results import measure_results
from acquire.analysis.samples.sample import Sample
from acquire.model import DriftCorrection, Order, Quantity, SledCorrection, SledSpec
from tests.unit.analysis.bench import judged, plan_of, result_of, samples_of

W = 0.2 * 9.80665
SLED = SledSpec(
    Decimal("0.2"), Decimal("0.0001"), "200.0 g", Decimal("9.80665"), (SledCorrection.ZERO,)
)
PIECE = 1.96133
TRUE = {"control": 0.40, "wax": 0.15, "seal": 0.25}
"""Coefficients at the stage after; 0.40 before."""


def gauge(
    gain: float, *, drift: float = 0.0, stages: Sequence[str] = ("bare", "applied")
) -> list[Bracket]:
    """Checks of a gauge whose zero is right and which reads `gain` of a force too high."""
    return [
        Bracket(
            stage, 1000.0 * k, 1000.0 * k + 900, PIECE * drift, 0.0005, "", PIECE * gain,
            certified=PIECE, piece="W200",
        )
        for k, stage in enumerate(stages)
    ]  # fmt: skip


def pulled(
    rng: np.random.Generator, gain: float, scatter: float, n: int = 10, zones: int = 3,
    after: dict[str, float] | None = None, drift: float = 0.0,
) -> list[Sample]:  # fmt: skip
    """Pulls in turn over all zones, rounded to a display of 0.001 N."""
    places = [f"{t}{k}" for t in TRUE for k in range(1, zones + 1)]
    found = []
    for k, stage in enumerate(("bare", "applied")):
        for replicate in range(n):
            for i, zone in enumerate(places):
                treatment = zone.rstrip("0123456789")
                mu = 0.40 if stage == "bare" else (after or TRUE)[treatment]
                since_s = 10 + replicate * 3 * len(places) + 3 * i
                reads = 1 + gain + drift * since_s / 900
                force = mu * W * reads * (1 + scatter * rng.normal())
                found.append(
                    Sample(zone, treatment, stage, replicate + 1, "", round(force, 3),
                           1000.0 * k + since_s, len(found) + 1)
                )  # fmt: skip
    return found


def slickness(
    samples: Sequence[Sample], brackets: Sequence[Bracket], *, zones: int = 3
) -> list[Comparison]:
    places = [f"{t}{k}" for t in TRUE for k in range(1, zones + 1)]
    plan, measure = plan_of(places, channels=("",), higher_is_better=False)
    measure = replace(measure, id="slick", quantity=Quantity.FORCE, unit="newton", sled=SLED)
    plan = replace(plan, measures=(measure,))
    (result,) = measure_results(plan, measure, samples, brackets, 0.001)
    return [judged(result, t) for t in TRUE if t != "control"]


def of_gain(budget: Budget) -> float:
    return math.fsum(b.contribution for b in budget.biases if "gain" in b.name)


# -- by hand ---------------------------------------------------------------------------------------


def test_a_gauge_that_reads_high_in_proportion_shifts_a_net_change_by_that_part_of_it() -> None:
    for c in slickness(pulled(np.random.default_rng(1), 0.012, 0.005), gauge(0.012)):
        # d/c times the net change, whichever checks the sides were read under.
        assert of_gain(c.budget) == pytest.approx(0.012 * c.estimate)
        assert c.budget.bias == pytest.approx(0.012 * c.estimate)
        assert c.budget.expanded == pytest.approx(
            c.budget.coverage_factor * c.budget.combined + 0.012 * abs(c.estimate)
        )
        # The weight alone was hung on it, and nothing was read at zero.
        said = "Gain of the meter, if what the checks found was a gain and no offset, would alone"
        assert said in c.sentence
        assert "of it; the interval is wider by as much" in c.sentence


def test_the_certificate_counts_in_a_difference_by_the_same_proportion() -> None:
    for c in slickness(pulled(np.random.default_rng(1), 0.0, 0.005), gauge(0.0)):
        (line,) = (t for t in c.budget.terms if t.name.startswith("certificate"))
        assert line.contribution == pytest.approx(0.0005 / PIECE * abs(c.estimate))
        assert not any("certified value" in text for text in c.budget.cancels)
        # The gauge read the piece as certified: no shift, and nothing said of one.
        assert of_gain(c.budget) == 0


def test_between_sides_that_read_alike_a_gain_does_nothing() -> None:
    same = {
        ("control", "bare"): (90.0, 90.1, 90.2),
        ("wax", "bare"): (90.0, 90.1, 90.2),
        ("control", "applied"): (85.0, 85.1, 85.2),
        ("wax", "applied"): (85.0, 85.1, 85.2),
    }
    found = judged(result_of(same, brackets=tiles(1.5)), "wax")
    assert found.budget.bias == 0
    assert all(t.contribution == 0 or "certificate" not in t.name for t in found.budget.terms)
    assert any("certified value" in text for text in found.budget.cancels)


def tiles(found: float, foot: float | None = None) -> list[Bracket]:
    """A tile of 95 GU read `found` too high, and a trap of 0 GU read `foot` too high."""
    trap = None if foot is None else Beside("Z0", 0.0, foot, 0.0, 0.02)
    return [
        Bracket(
            stage, 1000.0 * k, 1000.0 * k + 900, 0.0, 0.2, "", found, piece="T1",
            certified=95.0, opening_check=2 * k + 1, closing_check=2 * k + 2, foot=trap,
        )
        for k, stage in enumerate(("bare", "applied"))
    ]  # fmt: skip


GLOSS = {
    ("control", "bare"): (90.0, 90.2, 90.1),
    ("wax", "bare"): (90.1, 90.0, 90.2),
    ("control", "applied"): (90.0, 90.1, 90.2),
    ("wax", "applied"): (80.0, 80.1, 80.2),
}


@pytest.mark.parametrize(
    ("tile", "trap", "part"),
    [
        (0.95, None, 0.01),
        # Off by as much at the trap: an offset, which cancels.
        (0.95, 0.95, 0.0),
        (0.95, -0.95, 0.02),
        (0.0, 0.95, -0.01),
    ],
)
def test_with_a_trap_the_gain_is_that_of_the_line_through_both_pieces(
    tile: float, trap: float | None, part: float
) -> None:
    found = judged(result_of(GLOSS, brackets=tiles(tile, trap)), "wax")
    assert found.estimate == pytest.approx(-10.0)
    assert of_gain(found.budget) == pytest.approx(part * -10.0)
    # Bare the sides read alike but for last digits: what is nothing but rounding has no line.
    named = [b.name for b in found.budget.biases if "gain" in b.name]
    assert named == (["gain of the meter, applied"] if part else [])


def test_readings_and_certificates_of_both_pieces_count_by_the_difference() -> None:
    # Not closed yet, so that nothing but the opening checks is in it.
    bare, applied = (
        replace(b, closing_at_s=None, closing_check=None, drift=None) for b in tiles(0.95, 0.1)
    )
    doubt = Combined(0.06, math.inf)
    assert applied.foot is not None
    applied = replace(
        applied, opening_doubt=doubt, foot=applied.foot._replace(opening_doubt=Combined(0.03, 4))
    )
    lines = {
        t.name: t for t in judged(result_of(GLOSS, brackets=[bare, applied]), "wax").budget.terms
    }
    assert lines["certificate of the reference piece T1"].contribution == pytest.approx(
        0.2 * 10 / 95
    )
    assert lines["certificate of Z0"].contribution == pytest.approx(0.02 * 10 / 95)
    assert lines["reading of check 3, piece T1"].contribution == pytest.approx(0.06 * 10 / 95)
    assert lines["reading of check 3, piece Z0"].contribution == pytest.approx(0.03 * 10 / 95)
    assert lines["reading of check 3, piece Z0"].nu == 4


def test_a_gain_that_drifts_counts_by_the_time_at_which_the_sides_were_read() -> None:
    # From right to 1.8 % too high in each stage; what was pulled after lies at the middle of it.
    for c in slickness(
        pulled(np.random.default_rng(2), 0.0, 0.0, drift=0.018), gauge(0.0, drift=0.018)
    ):
        true = TRUE[c.treatment] - 0.40
        assert of_gain(c.budget) == pytest.approx(c.estimate - true, rel=0.1)
        course = [t for t in c.budget.terms if t.name == "course of the drift, applied"]
        # A sudden step at any time makes 0 to all of it: a deviation of 1/sqrt(12) at the least.
        assert course[0].contribution >= 0.9 * 0.018 * abs(true) / math.sqrt(12)


@pytest.mark.parametrize(
    ("after", "wanted"),
    [
        # 1 %, then 2 % of the readings are less than 0.95, then 1.90 of each: an offset counts.
        (80.1, 1.90 - 0.95),
        # Above the tile they are more: a gain does.
        (100.1, 0.02 * 100.1 - 0.01 * 90.1),
    ],
)
def test_the_change_of_a_zone_between_checks_has_an_offset_or_a_gain_whichever_is_more(
    after: float, wanted: float
) -> None:
    first, second = tiles(0.95)
    second = replace(second, opening_deviation=1.90)
    read = GLOSS | {("wax", "applied"): (after - 0.1, after, after + 0.1)}
    change = next(c for c in result_of(read, brackets=[first, second]).changes if c.zone == "wax")
    assert change.budget is not None
    assert change.budget.bias == pytest.approx(wanted)


def test_shifts_that_cancel_but_for_their_last_digits_are_none() -> None:
    # Both treatments fell by as much under checks that found the same gain.
    fell = {place: tuple(v - 0.3 * (place[1] == "applied") for v in GLOSS[place[0], "bare"])
            for place in GLOSS}  # fmt: skip
    fell["wax", "bare"], fell["wax", "applied"] = (
        tuple(v - 7.7 for v in fell["control", stage]) for stage in ("bare", "applied")
    )
    found = judged(result_of(fell, brackets=tiles(0.7)), "wax").budget
    assert len([b for b in found.biases if b.contribution]) == 2
    assert found.bias == 0


def test_a_level_is_held_against_its_piece_as_it_was() -> None:
    level = result_of(GLOSS, brackets=tiles(0.95)).level("wax", "applied")
    assert level is not None
    assert level.budget is not None
    assert level.budget.bias == pytest.approx(0.95)


@pytest.mark.parametrize(
    ("how", "foot", "wanted"),
    [
        # Right at zero it is a gain, of 1 % of a change by -10 GU.
        (DriftCorrection.OFFSET, 0.0, -0.1),
        (DriftCorrection.GAIN, 0.0, 0.0),
        # Without a second piece it may be; and where a gain was taken off, an offset.
        (DriftCorrection.OFFSET, None, -0.1),
        (DriftCorrection.GAIN, None, 0.1),
    ],
)
def test_a_correction_by_offset_leaves_a_gain_in_and_one_by_gain_an_offset(
    how: DriftCorrection, foot: float | None, wanted: float
) -> None:
    plan, measure = plan_of(["control", "wax"])
    found = corrected_measure(
        plan,
        replace(measure, drift_correction=how),
        "60",
        samples_of(GLOSS),
        tiles(0.95, foot),
        0.1,
    )
    assert found.result is not None
    assert judged(found.result, "wax").budget.bias == pytest.approx(wanted, abs=0.002)


def test_a_ratio_is_free_of_it() -> None:
    plan, measure = plan_of(["control", "wax"], channels=("uv",))
    measure = replace(
        measure, id="film", quantity=Quantity.TRANSMITTANCE, unit="percent", order=Order.INTERLEAVED
    )
    samples = [
        Sample(zone, zone, stage, k + 1, "uv", value + 0.1 * k, 1000.0 * s + 10 * k, 10 * s + k)
        for s, stage in enumerate(("bare", "applied"))
        for zone, value in (("control", 90.0), ("wax", 90.0 if stage == "bare" else 45.0))
        for k in range(3)
    ]
    (result,) = measure_results(
        replace(plan, measures=(measure,)), measure, samples,
        [replace(b, certified=100.0) for b in tiles(1.0)], 0.01,
    )  # fmt: skip
    assert of_gain(judged(result, "wax").budget) == 0
    assert any("cancels in their ratio" in rule for rule in result.rules)


def test_the_smallest_visible_difference_has_the_gain_of_a_difference_of_its_own_size() -> None:
    samples = pulled(np.random.default_rng(3), 0.0, 0.005)
    for right, high in zip(
        slickness(samples, gauge(0.0)), slickness(samples, gauge(0.018)), strict=True
    ):
        # Hidden twice by its own size, so 1 / (1 - 2 x 1.8 %) times as much; not by that of the
        # difference that was read.
        assert high.smallest_visible == pytest.approx(
            right.smallest_visible / (1 - 0.036), rel=0.03
        )


def test_the_line_of_a_check_whose_no_load_was_taken_off_names_both_pieces() -> None:
    (bare, applied) = gauge(0.012)
    step = 0.001 / math.sqrt(12)
    doubts = {"opening_doubt": Combined(step, math.inf), "closing_doubt": Combined(step, math.inf)}
    brackets = [
        replace(
            b,
            opening_check=2 * k + 1,
            closing_check=2 * k + 2,
            opening_step=0.001,
            closing_step=0.001,
            **doubts,
        )
        for k, b in enumerate((bare, applied))
    ]
    zero = Zero(0.0, 0.0, Combined(step, math.inf), Combined(step, math.inf), piece="Z0")
    off = zero_off(pulled(np.random.default_rng(1), 0.012, 0.005), brackets, {0: zero, 1: zero})
    assert off is not None
    for c in slickness(*off):
        (line,) = (t for t in c.budget.terms if t.name.startswith("reading of check 3"))
        assert line.name == "reading of check 3, piece W200 less Z0"
        assert line.u == pytest.approx(math.sqrt(2) * step / W)
        assert line.note.startswith("u² = s²/n + step²/12 of W200 and of Z0 (no load)")
        assert "all over the weight of the sled (0.0005099 a step)" in line.note


# -- drawn trials ----------------------------------------------------------------------------------

DRAWN = 40


@pytest.mark.parametrize("gain", [0.0, 0.005, 0.01, 0.018, -0.018])
def test_intervals_hold_the_truth_by_a_gauge_whose_gain_is_off(gain: float) -> None:
    """40 trials of two treatments by a gauge that may still pass: 93 of 100 or more are held."""
    rng = np.random.default_rng(7)
    held = 0
    for _ in range(DRAWN):
        for c in slickness(pulled(rng, gain, 0.005), gauge(gain)):
            low, high = c.interval
            held += low <= TRUE[c.treatment] - 0.40 <= high
    assert held >= 0.93 * 2 * DRAWN


@pytest.mark.parametrize("gain", [0.0, 0.018])
def test_of_treatments_that_do_nothing_no_more_are_called_different(gain: float) -> None:
    rng = np.random.default_rng(8)
    nothing = dict.fromkeys(TRUE, 0.40)
    shown = sum(
        any(
            c.is_difference_shown
            for c in slickness(pulled(rng, gain, 0.005, after=nothing), gauge(gain))
        )
        for _ in range(DRAWN)
    )
    # 5 in 100 of trials at most, and what a sample of 40 leaves open.
    assert shown <= 5
