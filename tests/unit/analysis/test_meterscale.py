"""How the error of a meter runs from piece to piece, and what of it is in results.

Figures of the tests are worked out by hand beside them. What is drawn rests on the rule for a known
effect that is left in (JCGM 100:2008, F.2.4.5) and on nothing of a trade.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest

from acquire.analysis.budget.uncertainty import Budget, Combined
from acquire.analysis.checks.bracket import Bracket
from acquire.analysis.checks.meterscale import Beside, foot_of, kinks_of
from acquire.analysis.correction import corrected_measure
from acquire.analysis.results import measure_results
from acquire.model import DriftCorrection, Quantity
from tests.unit.analysis.bench import judged, plan_of, result_of, samples_of

TILE, MIDDLE, TRAP = 90.0, 60.0, 0.0

GLOSS = {
    ("control", "bare"): (84.0, 84.1, 84.2),
    ("wax", "bare"): (84.1, 84.0, 84.2),
    ("control", "applied"): (84.0, 84.1, 84.2),
    ("wax", "applied"): (72.0, 72.1, 72.2),
}


def piece(name: str, certified: float, found: float, **more: object) -> Beside:
    return Beside(name, certified, found, 0.0, 0.1)._replace(**more)  # type: ignore[arg-type]


def checks(
    tile: float, middle: float, trap: float, *, u: float = 0.1, **more: object
) -> list[Bracket]:
    """Checks of bare and applied that read a tile of 90, one of 60 GU and a trap off by so much."""
    return [
        Bracket(
            stage, 1000.0 * k, 1000.0 * k + 900, 0.0, u, "", tile, piece="T1", certified=TILE,
            opening_check=2 * k + 1, closing_check=2 * k + 2,
            foot=Beside("Z0", TRAP, trap, 0.0, 0.02),
            beside=(Beside("T2", MIDDLE, middle, 0.0, u),),
            **more,  # type: ignore[arg-type]
        )
        for k, stage in enumerate(("bare", "applied"))
    ]  # fmt: skip


def contribution(budget: Budget, begins: str) -> float:
    return math.fsum(b.contribution for b in budget.biases if b.name.startswith(begins))


# -- by hand ---------------------------------------------------------------------------------------


def test_a_kink_is_whole_at_its_piece_and_nothing_at_any_other() -> None:
    (kink,) = kinks_of(piece("T1", 90, 0.3), piece("Z0", 0, 0.0), [piece("T2", 60, -0.4)])
    # The line from 0 at 0 to 0.3 at 90 has 0.2 at 60.
    assert kink.found == pytest.approx(-0.6)
    assert [kink.at(v) for v in (0, 60, 90)] == pytest.approx([0, 1, 0])
    # At 75: half by straight lines; 75 x 15 / (60 x 30) = 0.625 by the parabola.
    assert kink.at(75) == pytest.approx((0.5 + 0.625) / 2)
    assert kink.apart(75) == pytest.approx((0.625 - 0.5) / 2)
    # On beyond the tile: -3 / 30, and 93 x -3 / (60 x 30).
    assert kink.at(93) == pytest.approx((-0.1 - 0.155) / 2)


def test_kinks_of_several_pieces_leave_one_another_alone() -> None:
    others = [piece("T2", 60, 1.0), piece("T3", 30, 2.0), piece("T4", 97, 4.0)]
    kinks = kinks_of(piece("T1", 75, 0.0), piece("Z0", 0, 0.0), others)
    assert [k.beside.piece for k in kinks] == ["T3", "T2", "T4"]
    for kink in kinks:
        at = [kink.at(v) for v in (0, 30, 60, 75, 97)]
        assert at == pytest.approx([float(v == kink.beside.certified) for v in (0, 30, 60, 75, 97)])
    # Far from its neighbours a piece has no say.
    assert kinks[0].at(80) == 0
    assert kinks[2].at(20) == 0


def test_a_piece_that_lies_beside_another_makes_no_slope_of_its_own() -> None:
    others = [piece("T2", 86, 1.0), piece("T3", 45, 1.0)]
    kinks = kinks_of(piece("T1", 90, 0.0), piece("Z0", 0, 0.0), others)
    assert [k.beside.piece for k in kinks] == ["T3"]


@pytest.mark.parametrize(
    ("reference", "others", "zeros", "wanted"),
    [
        (90.0, (60.0, 30.0), (0.0,), 0.0),
        (90.0, (60.0, 30.0), (), 30.0),
        (60.0, (90.0,), (), 90.0),
        # Nearer than a quarter of it: drawn on to zero such a line is noise.
        (90.0, (80.0,), (), None),
        (90.0, (), (), None),
    ],
)
def test_the_line_is_drawn_from_the_piece_that_fixes_it_best(
    reference: float, others: Sequence[float], zeros: Sequence[float], wanted: float | None
) -> None:
    found = foot_of(
        piece("own", reference, 0.0),
        [piece(f"T{v:g}", v, 0.0) for v in others],
        [piece("Z0", v, 0.0) for v in zeros],
    )
    assert (found.certified if found is not None else None) == wanted


def test_a_tile_off_the_line_shifts_a_change_by_what_its_sides_have_of_it() -> None:
    found = judged(result_of(GLOSS, brackets=checks(0.0, -0.5, 0.0)), "wax").budget
    # At 84.1: 5.9 / 30 straight, 84.1 x 5.9 / 1800 curved; at 72.1: 17.9 / 30 and 72.1 x 17.9 /
    # 1800. The control and bare sides lie at 84.1 alike.
    straight = (17.9 - 5.9) / 30
    curved = (72.1 * 17.9 - 84.1 * 5.9) / 1800
    assert contribution(found, "bend of the meter's scale at T2") == pytest.approx(
        -0.5 * (straight + curved) / 2, rel=1e-3
    )
    assert contribution(found, "gain") == 0
    (course,) = (t for t in found.terms if t.name == "course of the scale about T2")
    assert course.contribution == pytest.approx(0.5 * abs(curved - straight) / 2, rel=1e-2)


def test_each_certificate_and_reading_counts_by_what_its_piece_does_to_the_change() -> None:
    doubt = Combined(0.06, math.inf)
    brackets = [
        replace(
            b, opening_doubt=doubt, closing_at_s=None, closing_check=None, drift=None,
            beside=tuple(p._replace(opening_doubt=doubt, drift=None) for p in b.beside),
        )
        for b in checks(0.2, -0.3, 0.1)
    ]  # fmt: skip
    found = judged(result_of(GLOSS, brackets=brackets), "wax").budget
    lines = {t.name: t for t in found.terms}
    moved = {}
    for name, by in (("T1", (1e-3, 0, 0)), ("T2", (0, 1e-3, 0)), ("Z0", (0, 0, 1e-3))):
        then = [
            replace(
                b, opening_deviation=0.2 + by[0],
                beside=(b.beside[0]._replace(deviation=-0.3 + by[1]),),
                foot=b.foot._replace(deviation=0.1 + by[2]) if b.foot is not None else None,
            )
            for b in brackets
        ]  # fmt: skip
        moved[name] = judged(result_of(GLOSS, brackets=then), "wax").budget.bias - found.bias
    for name, label in (
        ("T1", "certificate of the reference piece T1"),
        ("T2", "certificate of T2"),
        ("Z0", "certificate of Z0"),
    ):
        assert abs(lines[label].sensitivity) == pytest.approx(abs(moved[name]) / 1e-3, rel=1e-6)
    for name in ("T1", "T2"):
        read = lines[f"reading of check 3, piece {name}"]
        assert abs(read.sensitivity) == pytest.approx(abs(moved[name]) / 1e-3, rel=1e-2)


def test_a_piece_that_stands_for_one_stage_and_tells_of_another_has_one_certificate() -> None:
    bare, applied = checks(0.0, 0.3, 0.0)
    # After, the readings lie nearest to T2, and T1 tells of the scale beyond it.
    applied = replace(
        applied, piece="T2", certified=MIDDLE, opening_deviation=0.3,
        beside=(piece("T1", TILE, 0.0),),
    )  # fmt: skip
    same = judged(result_of(GLOSS, brackets=checks(0.0, 0.3, 0.0)), "wax").budget
    found = judged(result_of(GLOSS, brackets=[bare, applied]), "wax").budget
    names = [t.name for t in found.terms if t.name.startswith("certificate")]
    assert names == [
        "certificate of the reference piece T1", "certificate of the reference piece T2",
        "certificate of Z0",
    ]  # fmt: skip
    # Whichever piece it is counted from, the meter errs as much at each reading.
    assert found.bias == pytest.approx(same.bias)
    for name in ("T1", "T2"):
        (mixed,) = (t for t in found.terms if t.name.endswith(f" {name}") and t.name[0] == "c"
                    and t.name.startswith("certificate"))  # fmt: skip
        (one,) = (t for t in same.terms if t.name.startswith("certificate")
                  and t.name.endswith(f" {name}"))  # fmt: skip
        assert mixed.contribution == pytest.approx(one.contribution)


def test_a_level_far_from_its_piece_is_off_by_the_error_at_the_reading() -> None:
    # A tile of 60 GU and a trap; 1 % too high: 0.6 at the tile, 0.841 at a reading of 84.1.
    brackets = [
        replace(b, piece="T2", certified=MIDDLE, opening_deviation=0.6, beside=())
        for b in checks(0.0, 0.0, 0.0)
    ]
    result = result_of(GLOSS, brackets=brackets)
    level = result.level("wax", "bare")
    assert level is not None
    assert level.budget is not None
    assert level.budget.bias == pytest.approx(0.01 * 84.1)
    (certificate,) = (t for t in level.budget.terms if "certificate of the" in t.name)
    assert certificate.contribution == pytest.approx(0.1 * 84.1 / 60)
    change = next(c for c in result.changes if c.zone == "wax")
    assert change.budget is not None
    assert change.budget.bias == pytest.approx(-0.01 * 12)


def test_a_correction_by_gain_leaves_what_lies_off_its_line() -> None:
    brackets = checks(0.9, 0.6 - 0.4, 0.3)
    plan, measure = plan_of(["control", "wax"])
    measure = replace(measure, drift_correction=DriftCorrection.GAIN)
    found = corrected_measure(plan, measure, "60", samples_of(GLOSS), brackets, 0.1).result
    assert found is not None
    budget = judged(found, "wax").budget
    # A reading r becomes r 90 / 90.9, and what is left in it as many times less: right at the tile
    # and 0.3 too high at the trap, so that 12 GU of 90 lower lies 0.04 higher.
    left = 90 / 90.9
    assert contribution(budget, "gain") == pytest.approx(0.3 * 12 * left / 90 * left, rel=1e-6)
    # The line from 0.3 to 0.9 has 0.7 at T2, which was read 0.2 off.
    high, low = 84.1 * left, 72.1 * left
    straight = (high - low) / 30
    curved = (low * (90 - low) - high * (90 - high)) / 1800
    assert contribution(budget, "bend") == pytest.approx(
        -0.5 * left * (straight + curved) / 2, rel=1e-3
    )


@pytest.mark.parametrize(
    ("low", "high", "wanted"),
    [
        # In proportion: taken off whole.
        (0.6, 0.9, 0.0),
        # Held against 60 GU, so what was 0.6 there was 0.9 at 90; read 0.5, it is 0.4 lower.
        (0.6, 0.5, -0.4),
        # An offset of 0.6 has 0.9 taken off at 90.
        (0.6, 0.6, -0.3),
    ],
)
def test_a_correction_by_gain_leaves_at_another_tile_what_is_not_in_proportion(
    low: float, high: float, wanted: float
) -> None:
    brackets = [
        replace(b, piece="T2", certified=MIDDLE, opening_deviation=low, beside=(),
                foot=piece("T1", TILE, high))
        for b in checks(0.0, 0.0, 0.0)
    ]  # fmt: skip
    plan, measure = plan_of(["control", "wax"])
    measure = replace(measure, drift_correction=DriftCorrection.GAIN)

    def budget_of(around: Sequence[Bracket]) -> Budget:
        found = corrected_measure(plan, measure, "60", samples_of(GLOSS), around, 0.1).result
        assert found is not None
        return judged(found, "wax").budget

    budget = budget_of(brackets)
    # The wax lies 12 GU lower, of 30 GU between the tiles, all a hundredth less.
    left = 60 / 60.6
    assert budget.bias == pytest.approx(-12 * left / 30 * wanted * left, abs=1e-9)
    # How far it reaches hangs on the reading of either tile by as much as the bias does.
    moved = [replace(b, foot=piece("T1", TILE, high + 1e-3)) for b in brackets]
    (certificate,) = (t for t in budget.terms if t.name == "certificate of T1")
    by = (budget_of(moved).bias - budget.bias) / 1e-3
    assert abs(certificate.sensitivity) == pytest.approx(abs(by), rel=1e-6)


def test_a_level_near_the_trap_keeps_the_traps_error_through_a_correction_by_gain() -> None:
    """Right at the tile, 0.20 too high at the trap: 30 GU read as 30 + 0.2 x 60 / 90."""
    brackets = checks(0.0, 0.2 / 3, 0.2)
    plan, measure = plan_of(["control", "wax"])
    measure = replace(measure, drift_correction=DriftCorrection.GAIN)
    read = {place: (30.13, 30.14, 30.13) for place in GLOSS}
    found = corrected_measure(plan, measure, "60", samples_of(read), brackets, 0.1).result
    assert found is not None
    level = found.level("wax", "applied")
    assert level is not None
    assert level.budget is not None
    assert level.budget.bias == pytest.approx(0.2 * 60 / 90, rel=5e-3)


def test_a_bend_that_drifts_counts_by_the_time_of_its_readings() -> None:
    brackets = checks(0.0, 0.0, 0.0)
    brackets[1] = replace(
        brackets[1], beside=(brackets[1].beside[0]._replace(drift=-0.4),), drift=0.0
    )
    found = judged(result_of(GLOSS, brackets=brackets), "wax").budget
    drift = contribution(found, "steady drift of the bend at T2")
    assert drift < 0
    (course,) = (t for t in found.terms if t.name == "course of the drift, applied")
    assert course.u == pytest.approx(0.4)
    assert course.contribution > 0.5 * abs(drift)


def test_where_another_piece_told_the_drift_nothing_is_said_of_a_bend_that_drifts() -> None:
    brackets = checks(0.0, 0.0, 0.0, closing_piece="T2")
    brackets = [
        replace(b, drift=-0.4, beside=(b.beside[0]._replace(drift=-0.4),)) for b in brackets
    ]
    found = judged(result_of(GLOSS, brackets=brackets), "wax").budget
    assert not any("bend" in b.name for b in found.biases)
    assert any("drift" in b.name and b.contribution for b in found.biases)


def test_of_a_foot_that_was_not_read_again_nothing_is_claimed() -> None:
    brackets = [
        replace(b, drift=0.4, beside=(), foot=b.foot._replace(drift=None) if b.foot else None)
        for b in checks(0.0, 0.0, 0.0)
    ]
    found = judged(result_of(GLOSS, brackets=brackets), "wax").budget
    (drift,) = (b for b in found.biases if b.name == "steady drift of the gain, applied")
    assert "(T1; Z0 was not read then, so what all readings drifted by may have grown" in drift.note
    assert "more than Z0" not in drift.note


def test_a_drift_told_by_the_tile_alone_counts_in_full_in_a_level_far_below_it() -> None:
    brackets = [
        replace(b, drift=0.9, beside=(), foot=b.foot._replace(drift=None) if b.foot else None)
        for b in checks(0.0, 0.0, 0.0)
    ]
    read = {place: (30.0, 30.1, 30.2) for place in GLOSS}
    level = result_of(read, brackets=brackets).level("wax", "applied")
    assert level is not None
    assert level.budget is not None
    # All of it may be an offset: by the part of the time that had gone by.
    (held,) = level.cell.holdings
    assert level.budget.bias == pytest.approx(0.9 * held.lever)
    (course,) = (t for t in level.budget.terms if t.name.startswith("course of the drift"))
    assert course.u == pytest.approx(0.9)


# -- ratios ----------------------------------------------------------------------------------------


FILM = {
    ("control", "bare"): (90.0, 90.1, 90.2),
    ("wax", "bare"): (90.1, 90.0, 90.2),
    ("control", "applied"): (90.0, 90.1, 90.2),
    ("wax", "applied"): (10.0, 10.1, 10.2),
}


def head(beam: float, dark: float) -> list[Bracket]:
    """Checks of a head that reads the open beam and the dark off by so much."""
    return [
        replace(b, piece="OPEN", certified=100.0, opening_deviation=beam, beside=(),
                foot=Beside("DARK", 0.0, dark, 0.0, 0.0))
        for b in checks(0.0, 0.0, 0.0)
    ]  # fmt: skip


def film(brackets: Sequence[Bracket], how: DriftCorrection = DriftCorrection.NONE) -> Budget:
    plan, measure = plan_of(["control", "wax"])
    measure = replace(
        measure, id="film", quantity=Quantity.TRANSMITTANCE, unit="percent", drift_correction=how
    )
    plan = replace(plan, measures=(measure,))
    if how is DriftCorrection.NONE:
        (result,) = measure_results(plan, measure, samples_of(FILM), brackets, 0.1)
    else:
        found = corrected_measure(plan, measure, "60", samples_of(FILM), brackets, 0.1).result
        assert found is not None
        result = found
    return judged(result, "wax").budget


@pytest.mark.parametrize(
    ("beam", "dark", "how", "wanted"),
    [
        # ln of film over blank: an error e of a reading v does e / v.
        (0.3, 0.3, DriftCorrection.NONE, 0.3 / 10.1 - 0.3 / 90.1),
        (0.0, 0.3, DriftCorrection.NONE, 0.3 * 0.899 / 10.1 - 0.3 * 0.099 / 90.1),
        # In proportion to the reading.
        (-0.8, 0.0, DriftCorrection.NONE, 0.0),
        # As an offset it is taken off readings that had less of it.
        (-0.8, 0.0, DriftCorrection.OFFSET, 0.8 * 0.891 / 10.9 - 0.8 * 0.091 / 90.9),
        # By gain the dark stays as far off as it was.
        (0.3, 0.3, DriftCorrection.GAIN, 0.3 / 10.1 - 0.3 / 90.1),
    ],
)
def test_a_ratio_has_what_the_head_is_off_by_at_each_slide(
    beam: float, dark: float, how: DriftCorrection, wanted: float
) -> None:
    assert film(head(beam, dark), how).bias == pytest.approx(wanted, abs=2e-4)


def test_by_which_correction_the_readings_were_made_right_is_said() -> None:
    assert film(head(0.3, 0.3), DriftCorrection.GAIN).cancels[0].startswith("Gain and steady drift")
    assert film(head(0.3, 0.3), DriftCorrection.OFFSET).cancels[0].startswith("Offset and steady")


# -- drawn trials ----------------------------------------------------------------------------------

DRAWN = 60

_Error = Callable[[float], float]


def _straight(tile: float, middle: float) -> _Error:
    return lambda y: float(np.interp(y, [TRAP, MIDDLE, TILE], [0.0, middle, tile]))


def _curved(most: float) -> _Error:
    return lambda y: 4 * most * y / TILE * (1 - y / TILE)


@pytest.mark.parametrize(
    ("error", "change"),
    [
        (_straight(0.0, -0.55), -12.0),
        (_straight(0.55, -0.55), -12.0),
        (_straight(0.3, 0.3), -30.0),
        (_straight(0.0, 0.0), -12.0),
        (_curved(0.55), -12.0),
        (_curved(-0.55), -12.0),
    ],
)
def test_intervals_hold_the_truth_by_a_meter_whose_scale_is_bent(
    error: _Error, change: float
) -> None:
    """60 trials: 93 of 100 net changes, changes of zones and levels are held.

    The pieces are off their certificates by what these leave open, and the meter reads them.
    """
    rng = np.random.default_rng(11)
    held = np.zeros(3)
    for _ in range(DRAWN):
        readings = {}
        for treatment in ("control", "wax"):
            for zone in (1, 2, 3):
                for stage in ("bare", "applied"):
                    true = 84.0 + (change if (treatment, stage) == ("wax", "applied") else 0.0)
                    read = true + error(true) + 0.05 * rng.normal(size=8)
                    readings[f"{treatment}{zone}", stage] = tuple(np.round(read, 2))
        off = rng.normal(0, 0.1, 2)
        found = [e + error(v + e) for e, v in zip(off, (TILE, MIDDLE), strict=True)]
        result = result_of(
            readings, brackets=checks(found[0], found[1], 0.0), resolution=0.01, replicates=8
        )
        low, high = judged(result, "wax").interval
        one = next(c for c in result.changes if c.zone == "wax1")
        level = result.level("wax1", "applied")
        assert one.budget is not None
        assert one.estimate is not None
        assert level is not None
        assert level.budget is not None
        assert level.cell.mean is not None
        held += [
            low <= change <= high,
            abs(one.estimate - change) <= one.budget.expanded,
            abs(level.cell.mean - 84.0 - change) <= level.budget.expanded,
        ]
    assert min(held) >= 0.93 * DRAWN
