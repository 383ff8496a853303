"""A meter whose checks read one piece: what they found may be its offset or its gain.

Figures of the tests are worked out by hand beside them. What is drawn rests on the rule for a known
effect that is left in (JCGM 100:2008, F.2.4.5) and on nothing of a trade.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from acquire.analysis.budget.uncertainty import Budget
from acquire.analysis.checks.bracket import Bracket, reading_doubt
from acquire.analysis.checks.meterscale import Beside
from acquire.analysis.correction import corrected_measure
from acquire.analysis.places.standing import standing
from acquire.analysis.results import MeasureResult, measure_results
from acquire.model import DriftCorrection, Quantity
from tests.unit.analysis.bench import Readings, judged, plan_of, samples_of

NONE, OFFSET, GAIN = DriftCorrection.NONE, DriftCorrection.OFFSET, DriftCorrection.GAIN
STAGES = ("bare", "applied")


def checks(
    certified: float, *off: float, u: float = 0.0, doubt: float = 0.0, n: int = 3
) -> list[Bracket]:
    """Checks before, between and after the stages read one piece off by so much."""
    read = reading_doubt(doubt, n, 0.0)
    return [
        Bracket(
            stage, 1000.0 * k, 1000.0 * (k + 1), after - before, u, "", before, piece="T1",
            certified=certified, opening_check=k + 1, closing_check=k + 2, opening_doubt=read,
            closing_doubt=read,
        )
        for k, (stage, (before, after)) in enumerate(zip(STAGES, pairwise(off), strict=True))
    ]  # fmt: skip


def results(
    readings: Readings, brackets: Sequence[Bracket], how: DriftCorrection, *, is_film: bool = False
) -> MeasureResult:
    plan, measure = plan_of(list(dict.fromkeys(zone for zone, _ in readings)))
    measure = replace(measure, drift_correction=how)
    if is_film:
        measure = replace(measure, quantity=Quantity.TRANSMITTANCE, unit="percent")
    plan = replace(plan, measures=(measure,))
    if how is NONE:
        (result,) = measure_results(plan, measure, samples_of(readings), brackets, 0.01)
        return result
    found = corrected_measure(plan, measure, "60", samples_of(readings), brackets, 0.01).result
    assert found is not None
    return found


def level_of(result: MeasureResult, zone: str = "wax", stage: str = "applied") -> Budget:
    level = result.level(zone, stage)
    assert level is not None
    assert level.budget is not None
    return level.budget


def around(value: float) -> tuple[float, ...]:
    return (value - 0.1, value, value + 0.1)


def trial(after: float, control: float = 90.0) -> Readings:
    return {
        ("control", "bare"): around(control),
        ("wax", "bare"): around(control),
        ("control", "applied"): around(control),
        ("wax", "applied"): around(after),
    }


# -- by hand ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("how", "value", "wanted"),
    [
        # Off by 1.0 at 50: an offset, or a gain of 2 %. The larger one counts.
        (NONE, 30.0, 1.0),
        (NONE, 80.0, 1.6),
        # As an offset it is taken off: of a gain 0.02 y - 1.0 is left of a reading y.
        (OFFSET, 31.0, -0.4),
        (OFFSET, 81.0, 0.6),
        # As a gain it is taken off: of an offset 1.0 - 0.02 y is left of a reading y.
        (GAIN, 30.6, 0.4),
        (GAIN, 81.6, -0.6),
    ],
)
def test_a_level_has_what_is_left_in_it_if_the_error_was_of_the_other_kind(
    how: DriftCorrection, value: float, wanted: float
) -> None:
    found = level_of(results(trial(value), checks(50.0, 1.0, 1.0, 1.0), how))
    assert found.bias == pytest.approx(wanted, abs=0.005)


@pytest.mark.parametrize(("how", "sign"), [(OFFSET, -1), (GAIN, 1)])
def test_a_corrected_film_has_what_is_left_on_its_dark_slide(
    how: DriftCorrection, sign: int
) -> None:
    """Off by 1.0 at the open beam: d (1 / c - 1 / y) of a gain, d (1 / y - 1 / c) of an offset."""
    read = 16.0 if how is OFFSET else 15.15
    found = results(trial(read, 91.0), checks(100.0, 1.0, 1.0, 1.0), how, is_film=True)
    control = 90.0 if how is OFFSET else 91.0 / 1.01
    wanted = (1 / 15 - 1 / 100) - (1 / control - 1 / 100)
    assert judged(found, "wax").budget.bias == pytest.approx(sign * wanted, rel=0.01)
    (line,) = (b for b in judged(found, "wax").budget.biases if abs(b.contribution) > 0.01)
    assert line.name == (
        "gain of the meter, applied"
        if how is OFFSET
        else "offset of the meter, taken for its gain, applied"
    )
    assert "No second piece was read that would tell" in line.note
    kind = "A gain" if how is OFFSET else "An offset"
    assert f"{kind} of the meter, if what the checks found was one and no" in (
        judged(found, "wax").sentence
    )


@pytest.mark.parametrize("how", [OFFSET, GAIN])
def test_a_dark_that_was_read_tells_them_apart(how: DriftCorrection) -> None:
    """It was as far off as the beam: an offset, of which nothing is left if that was taken off."""
    dark = Beside("DARK", 0.0, 1.0, 0.0, 0.0)
    brackets = [replace(b, foot=dark) for b in checks(100.0, 1.0, 1.0, 1.0)]
    found = judged(results(trial(16.0, 91.0), brackets, how, is_film=True), "wax").budget
    assert (found.bias == 0) == (how is OFFSET)


@pytest.mark.parametrize("how", [NONE, OFFSET, GAIN])
@pytest.mark.parametrize("after", [90.0, 60.0])
def test_where_the_checks_found_nothing_no_shift_is_left(
    how: DriftCorrection, after: float
) -> None:
    result = results(trial(after), checks(95.0, 0.0, 0.0, 0.0, u=0.1), how)
    for budget in (judged(result, "wax").budget, level_of(result)):
        assert budget.bias == 0
    # The certificate counts as of an offset, which is more below the piece.
    (line,) = (t for t in level_of(result).terms if t.name.startswith("certificate"))
    assert line.contribution == pytest.approx(0.1)


def test_the_certificate_counts_by_the_kind_that_the_shift_is_of() -> None:
    # A gain of 2 % at 50: at 80 the certificate has 80/50 of its doubt.
    found = level_of(results(trial(81.6), checks(50.0, 1.0, 1.0, 1.0, u=0.2), NONE))
    (line,) = (t for t in found.terms if t.name.startswith("certificate"))
    assert line.contribution == pytest.approx(0.2 * 81.6 / 50)


def test_what_stood_at_first_may_be_of_another_kind_than_what_it_moved_by() -> None:
    """Off by 1.0 at 95, and right again at the end: a gain that stood, and an offset that came."""
    brackets = checks(95.0, 1.0, 0.5, 0.0, u=0.05)
    found = judged(results(trial(60.0), brackets, NONE), "wax").budget
    # 1 / 95 of a change by -30; of the drift by -0.5, which all readings had by then, nothing.
    (stood,) = (b for b in found.biases if b.name == "gain of the meter, as it stood at first")
    assert stood.contribution == pytest.approx(-30.0 / 95)
    assert not any(b.contribution for b in found.biases if "of the gain" in b.name)
    assert "if that was in proportion to the reading" in stood.note
    # Where it did not move by more than its readings leave open, nothing is told apart.
    unsure = checks(95.0, 1.0, 0.5, 0.0, u=0.05, doubt=1.0)
    found = judged(results(trial(60.0), unsure, NONE), "wax").budget
    assert not any("at first" in b.name for b in found.biases)


def test_a_result_as_read_names_what_its_shift_takes_for_granted() -> None:
    """An offset makes nothing of a change; a gain makes 1 / 95 of a change by -30."""
    said = judged(results(trial(60.0), checks(95.0, 1.0, 1.0, 1.0), NONE), "wax").sentence
    assert (
        "Gain of the meter, if what the checks found was a gain and no offset, would alone have "
        "made −0.32 GU of it"
    ) in said
    both = checks(95.0, 1.0, 0.5, 0.0, u=0.05)
    said = judged(results(trial(60.0), both, NONE), "wax").sentence
    mixed = "if what the checks found was an offset in one part and a gain in the other, would"
    assert mixed in said
    for how in (OFFSET, GAIN):
        said = judged(results(trial(60.0), both, how), "wax").sentence
        assert f"What was not taken off of the meter's error, {mixed} alone have made" in said
    foot = Beside("T0", 0.0, 0.0, 0.0, 0.0)
    told = [replace(b, foot=foot) for b in checks(95.0, 1.0, 1.0, 1.0)]
    said = judged(results(trial(60.0), told, NONE), "wax").sentence
    assert "Gain of the meter, as found by the checks, would alone have made" in said


@pytest.mark.parametrize("how", [NONE, OFFSET, GAIN])
def test_chances_call_no_shift_known_that_one_piece_leaves_open(how: DriftCorrection) -> None:
    """Of a corrected result all that is known was taken off the readings before."""
    readings = trial(60.0) | {("oil", "bare"): around(90.0), ("oil", "applied"): around(75.0)}
    one = checks(95.0, 1.0, 1.0, 1.0)
    two = [replace(b, foot=Beside("T0", 0.0, 0.0, 0.0, 0.0)) for b in one]
    for brackets, wanted in (
        (one, "With what the meter's error may have left in the readings taken off (its checks "
              "read one piece, which does not tell an offset from a gain): Oil"),
        (two, "With the known shifts of the meter taken off: Oil"),
    ):  # fmt: skip
        found = standing(results(readings, brackets, how), {"wax": "Wax", "oil": "Oil"}, "applied")
        assert found is not None
        shifted = [s for s in found.sentences if "taken off" in s]
        assert len(shifted) == (found.chances_unshifted is not None)
        assert all(s.startswith(wanted) for s in shifted)
        assert shifted or (brackets is two and how is GAIN)


def test_the_rules_say_what_one_piece_cannot_tell() -> None:
    one = checks(100.0, 1.0, 1.0, 1.0)
    two = [replace(b, foot=Beside("DARK", 0.0, 0.0, 0.0, 0.0)) for b in one]
    for brackets, is_said in ((one, True), (two, False)):
        rules = " ".join(results(trial(16.0, 91.0), brackets, OFFSET, is_film=True).rules)
        assert ("Where checks read one piece alone" in rules) == is_said
        assert "A correction by offset takes as much off both" in rules
        assert "cancels, but for what a correction by offset leaves of it" in rules
    plain = " ".join(results(trial(16.0, 91.0), two, NONE, is_film=True).rules)
    assert "by offset" not in plain


# -- drawn trials ----------------------------------------------------------------------------------

DRAWN = 60

_Error = Callable[[float, float], float]
"""How far off a value is read, at a part of the time."""


def _gain(size: float) -> _Error:
    return lambda value, part: value * size * part


def _offset(size: float) -> _Error:
    return lambda value, part: 100 * size * part


def _stood(value: float, part: float) -> float:
    """A gain that stood from the first, and an offset that comes against it."""
    return 0.006 * value - 0.6 * part


def _drawn(
    rng: np.random.Generator, error: _Error, certified: float, film: float, noise: float
) -> tuple[Readings, list[Bracket]]:
    """Slides of 91, wax by `film` of it after; a piece as far off as its certificate leaves."""
    off = rng.normal(0, 0.05)

    def shown(value: float, part: float) -> float:
        return round(value + error(value, part) + noise * rng.normal(), 2)

    ends = []
    for part in (0.0, 0.5, 1.0):
        ends.append(float(np.mean([shown(certified + off, part) for _ in range(3)])) - certified)
    readings = {}
    for k, stage in enumerate(STAGES):
        for i, zone in enumerate(("control1", "wax1", "control2", "wax2")):
            true = 91.0 * (film if stage == "applied" and zone[0] == "w" else 1.0)
            readings[zone, stage] = tuple(
                shown(true, (k + (40.0 * n + 10 * i) / 1000) / 2) for n in range(3)
            )
    return readings, checks(certified, *ends, u=0.05, doubt=noise)


@pytest.mark.parametrize("how", [NONE, OFFSET, GAIN])
@pytest.mark.parametrize(
    ("error", "certified"),
    [
        (_gain(0.008), 100.0), (_gain(-0.004), 100.0), (_gain(0.0015), 100.0),
        (_offset(0.004), 100.0), (_offset(-0.0015), 100.0), (_stood, 100.0),
        (_gain(0.008), 50.0), (_offset(0.004), 50.0),
    ],
)  # fmt: skip
def test_intervals_hold_the_truth_whether_offset_or_gain_drifts(
    how: DriftCorrection, error: _Error, certified: float
) -> None:
    """60 trials each: 93 of 100 films of 15 %, and levels of blank and film, are held."""
    rng = np.random.default_rng(7)
    held = np.zeros(3)
    for _ in range(DRAWN):
        readings, brackets = _drawn(rng, error, certified, 0.15, 0.03)
        result = results(readings, brackets, how, is_film=True)
        low, high = judged(result, "wax").interval
        held[0] += low <= np.log(0.15) <= high
        for place, (zone, true) in enumerate((("control1", 91.0), ("wax1", 13.65)), 1):
            level = result.level(zone, "applied")
            assert level is not None
            assert level.cell.mean is not None
            assert level.budget is not None
            held[place] += abs(level.cell.mean - true) <= level.budget.expanded
    assert min(held) >= 0.93 * DRAWN
