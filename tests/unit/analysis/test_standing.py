"""All treatments of a stage: pairs, places with ties, and chances, out of a whole result."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.random import default_rng
from scipy import stats

from acquire.analysis.budget.uncertainty import Combined
from acquire.analysis.places.ranking import chance_ahead
from acquire.analysis.places.standing import Standing, standing
from acquire.analysis.results import MeasureResult
from acquire.analysis.treatments.decision import Decision
from tests.unit.analysis.bench import has_nan, result_of, trial
from tests.unit.analysis.scatters import NAMES, Scenario, trial_result
from tests.unit.analysis.test_leading import three

NAMED = {name: name.capitalize() for name in ("control", *NAMES)}


def stood(result: MeasureResult) -> Standing:
    found = standing(result, NAMED, "applied")
    assert found is not None
    return found


def test_every_pair_has_the_limit_of_all_pairs_and_its_smallest_visible_difference() -> None:
    found = stood(three())
    assert found.treatments == ("seal", "tar", "wax")
    assert [(p.first, p.second) for p in found.pairs] == [
        ("seal", "tar"),
        ("seal", "wax"),
        ("tar", "wax"),
    ]
    u = 0.1 * math.sqrt(4 / 3)
    z = float(stats.studentized_range.ppf(0.95, 3, 1e9)) / math.sqrt(2)
    q = float(stats.t.isf((1 - 0.95**0.5) / 2, 2))
    for pair in found.pairs:
        assert pair.half_width == pytest.approx(math.sqrt(0.75 * z**2 + 0.25 * q**2) * u)
        assert pair.smallest_visible > pair.half_width
        assert "Games and Howell" in pair.rule
        assert pair.p is not None
        assert (pair.p < 0.05) == (pair.decision is not Decision.NOT_SHOWN)


def test_two_treatments_are_judged_as_one_difference() -> None:
    result = result_of(trial(wax=(92.0, 92.1, 92.2), seal=(91.0, 91.2, 91.1)))
    found = stood(result)
    (pair,) = found.pairs
    assert "Welch" in pair.rule
    assert pair.decision is Decision.BETTER
    budget = pair.evaluation.budget("wax less seal", "gloss_unit")
    assert budget is not None
    assert found.chances is not None
    assert found.chances.first[0] == pytest.approx(
        chance_ahead(pair.estimate, budget.combined, budget.nu)
    )


def test_ties_are_called_ties_and_the_one_shown_behind_is_not_among_them() -> None:
    found = stood(three())
    assert found.places is not None
    assert [found.places.text(i) for i in range(3)] == ["1 to 2, tied", "1 to 2, tied", "3"]
    assert found.sentences[0] == (
        "applied: first together: Seal and Tar; no difference was shown between them."
    )
    assert found.chances is not None
    assert found.chances.first[2] < 0.01


def test_lower_is_better_turns_places_and_chances_around() -> None:
    found = stood(three(higher_is_better=False))
    assert found.treatments == ("wax", "tar", "seal")
    assert found.sentences[0].startswith("applied: Wax is first")
    assert found.chances is not None
    assert found.chances.first[0] > 0.98


def test_a_known_drift_gives_the_chances_with_and_without_it() -> None:
    assert stood(three()).chances_unshifted is None
    found = stood(three(drifts=(0.4, -0.4)))
    assert found.chances is not None
    assert found.chances_unshifted is not None
    assert found.chances.first != found.chances_unshifted.first
    assert any("shifts of the meter taken off" in s for s in found.sentences)


@pytest.mark.parametrize("nu", [4.0, math.inf])
def test_how_well_the_checks_were_read_is_in_the_chances_whatever_its_degrees_of_freedom(
    nu: float,
) -> None:
    """A line of the checks is of kind A where it has few of them (it comes from scatter there)."""
    known = stood(three())
    doubtful = stood(three(doubt=Combined(2.0, nu)))
    assert known.chances is not None
    assert doubtful.chances is not None
    # Wax is read 30 s of 130 s before the seal: what the checks leave open of a drift lies between
    # them, so the one that is 0.9 behind may be first after all.
    assert known.chances.first[2] < 0.01
    assert doubtful.chances.first[2] > 0.03


def test_chances_are_those_of_drawing_the_treatments_themselves() -> None:
    # Display without steps and quiet checks: nothing but the scatter of two means of three.
    found = stood(three())
    draw = default_rng(5)
    changes = np.array([2.0, 1.9, 1.0])
    means = 0.1 / math.sqrt(3) * draw.standard_t(2, (200_000, 3, 2))
    best = (changes + means[..., 0] - means[..., 1]).argmax(axis=1)
    assert found.chances is not None
    for i in range(3):
        assert found.chances.first[i] == pytest.approx(float((best == i).mean()), abs=0.01)


def test_one_treatment_or_none_that_can_be_judged_has_no_standing() -> None:
    assert standing(result_of(trial(wax=(92.0, 92.1, 92.2))), NAMED, "applied") is None
    single = result_of(trial(wax=(92.0,), seal=(91.0,), tar=(90.0,)))
    assert standing(single, NAMED, "applied") is None
    assert standing(three(), NAMED, "washed") is None


def test_a_standing_has_no_figure_that_is_none() -> None:
    found = stood(trial_result(Scenario(5, 2), default_rng(2)))
    assert not has_nan(found)
    assert found.chances is not None
    assert sum(found.chances.first) == pytest.approx(1.0)


@pytest.mark.parametrize("treatments", [2, 4])
def test_the_leads_are_pairs_of_the_standing_themselves_so_that_neither_contradicts_the_other(
    treatments: int,
) -> None:
    for seed in range(20):
        result = trial_result(Scenario(treatments, 3), default_rng(seed))
        found = stood(result)
        assert found.places is not None
        with_best = [p for p in found.pairs if found.treatments[0] in (p.first, p.second)]
        assert [id(x.pair) for x in result.leads] == [id(p) for p in with_best]
        for held in result.leads:
            assert held.decision is held.pair.decision
            assert (held.ahead, held.reach) == (abs(held.pair.estimate), held.pair.half_width)
        # Whom the best one is ahead of cannot be first as well.
        first = {found.treatments[i] for i in found.places.tied_first}
        behind = {x.rival for x in result.leads if x.decision is Decision.BETTER}
        assert first.isdisjoint(behind)


def test_treatments_shown_equal_are_first_together_within_the_margin() -> None:
    found = stood(three("1.0"))
    assert found.sentences[0] == (
        "applied: first together: Seal and Tar; they are shown equal within ±1 GU."
    )


def test_single_zones_of_restless_readings_have_the_chances_of_their_readings() -> None:
    """Three still zones of the control do not make them surer than without such zones."""
    restless = (-3.0, 0.0, 3.0)
    zones = {
        "control1": 0.0,
        "control2": 0.01,
        "control3": -0.01,
        "wax": 1.0,
        "oil": 0.5,
        "tar": 0.0,
    }
    steady = {"control1", "control2", "control3"}
    readings = {
        (zone, stage): tuple(
            80 + (change if stage == "applied" else 0.0) + (0.001 if zone in steady else 1.0) * d
            for d in restless
        )
        for stage in ("bare", "applied")
        for zone, change in zones.items()
    }
    names = {t: t.capitalize() for t in ("control", "wax", "oil", "tar")}
    several = standing(result_of(readings, resolution=0.0), names, "applied")
    one = {p: v for p, v in readings.items() if p[0] not in ("control2", "control3")}
    single = standing(result_of(one, resolution=0.0), names, "applied")
    assert several is not None
    assert single is not None
    assert several.chances is not None
    assert single.chances is not None
    assert several.chances.first == pytest.approx(single.chances.first, abs=0.02)
    assert max(several.chances.first) < 0.7
