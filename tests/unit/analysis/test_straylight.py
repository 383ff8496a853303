"""Stray light that the plan knows of: a known shift of films, with its own doubt."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest

from acquire.analysis.meter.straylight import STRAY_LIGHT, part_of
from acquire.analysis.places.standing import standing
from acquire.analysis.results import MeasureResult
from acquire.analysis.transmission.stray import with_stray
from acquire.analysis.treatments.decision import Decision
from acquire.model.plan import StrayLight
from tests.unit.analysis.bench import judged, refused
from tests.unit.film_bench import films_of

STRAY = StrayLight(Decimal("0.5"), Decimal("0.1"))
S = 0.005 / 0.995


def read(true: float) -> tuple[float, float, float]:
    """Three readings in percent of a slide that truly lets so much through, as parts of 1."""
    seen = 100 * with_stray(true, S)
    return seen - 0.001, seen, seen + 0.001


def result_of(film: float, known: StrayLight | None = STRAY, **more: str) -> MeasureResult:
    return films_of(
        {
            ("control", "bare"): read(0.9),
            ("control", "applied"): read(0.9),
            ("wax", "bare"): read(0.9),
            ("wax", "applied"): read(0.9 * film),
        },
        stray=known,
        **more,
    )


def test_what_a_film_reads_too_bright_by_is_its_known_shift() -> None:
    film = 0.2
    found = judged(result_of(film), "wax")
    (shift,) = [b for b in found.budget.biases if b.name == STRAY_LIGHT]
    # By hand: s (1/T - 1) of the coated slide less that of the bare ones, T as read.
    coated, bare = with_stray(0.9 * film, S), with_stray(0.9, S)
    by_hand = S * (1 / coated - 1) - S * (1 / bare - 1)
    assert shift.contribution == pytest.approx(by_hand, rel=1e-6)
    # And to first order that is what the ratio as read lies above the true one.
    assert found.estimate - math.log(film) == pytest.approx(by_hand, rel=0.02)
    assert found.interval[0] < math.log(film) < found.interval[1]
    without = judged(result_of(film, None), "wax")
    assert not without.interval[0] < math.log(film) < without.interval[1]


def test_the_doubt_of_it_is_one_line_for_all_readings() -> None:
    found = judged(result_of(0.2), "wax")
    (line,) = [t for t in found.budget.terms if t.name == STRAY_LIGHT]
    # u(s) = u(b)/(1 - b)^2, in percent of the open beam.
    assert line.u == pytest.approx(0.1 / 0.995**2)
    assert part_of(STRAY).size == pytest.approx(S)
    (shift,) = [b for b in found.budget.biases if b.name == STRAY_LIGHT]
    assert line.sensitivity == shift.sensitivity


def test_of_slides_alike_it_is_in_proportion_and_cancels() -> None:
    alike = judged(result_of(1.0, margin="5"), "wax")
    assert alike.budget.bias == pytest.approx(0.0, abs=1e-12)
    assert alike.decision is Decision.EQUAL


def test_a_decision_and_the_rules_say_that_it_is_in_them() -> None:
    result = result_of(0.2)
    said = judged(result, "wax").sentence
    assert "Stray light of the head, as the plan has it, would alone have made" in said
    assert "as found by the checks" not in said
    assert any("stray light" in rule for rule in result.rules)
    assert not any("stray light" in rule for rule in result_of(0.2, None).rules)


def test_a_slide_that_is_hardly_brighter_than_stray_light_has_an_upper_limit_alone() -> None:
    refusal = refused(result_of(0.005), "wax")
    assert "hardly any light came through" in refusal.reason
    assert "at most" in refusal.reason
    assert judged(result_of(0.005, None), "wax").decision is not Decision.REFUSED


def test_films_are_held_against_one_another_with_it_and_drawn_without_it() -> None:
    films = {"wax": 0.2, "seal": 0.1}
    readings = {(z, "bare"): read(0.9) for z in ("control", *films)}
    readings |= {(z, "applied"): read(0.9 * films.get(z, 1.0)) for z in ("control", *films)}
    found = standing(films_of(readings, stray=STRAY), {t: t for t in films}, "applied")
    assert found is not None
    (pair,) = found.pairs
    as_read = [with_stray(0.9 * films[t], S) for t in (pair.first, pair.second)]
    assert pair.bias == pytest.approx(S * (1 / as_read[0] - 1 / as_read[1]), rel=1e-6)
    assert found.chances_unshifted is not None
