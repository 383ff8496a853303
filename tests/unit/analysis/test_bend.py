"""How far a head's scale may be bent between dark and open beam is in the intervals of films."""

from __future__ import annotations

import math
import statistics
from dataclasses import replace

import numpy as np
import pytest

from acquire.analysis.budget.uncertainty import Combined, Term
from acquire.analysis.checks.bend import Bend, Point, bend_of
from acquire.analysis.checks.bracket import reading_doubt
from acquire.analysis.checks.meterscale import EXACT
from acquire.analysis.laws.student import t_factor
from acquire.analysis.meter.bentreadings import BEND
from acquire.analysis.places.standing import standing
from acquire.analysis.results import MeasureResult
from tests.unit.analysis.bench import judged, quiet
from tests.unit.film_bench import films_of
from tests.unit.test_judge_linearity import CERTIFIED, READ, lines, policy

U_PERCENT = 0.15
"""Standard uncertainty of a filter of 50 % that is certified to +-0.3 % (k = 2)."""


def found_at(check: int, found: float = 0.0, head: str = "LG-1") -> Bend:
    return Bend(head, check, "N50", (0.0, 100.0), found, U_PERCENT, math.inf)


def trial(films: dict[str, float], bends: tuple[Bend, ...], blank: float = 92.0) -> MeasureResult:
    """Slides that let `blank` percent through when bare, read to some hundredths of a percent."""
    slides = {"control": 1.0, **films}
    readings = {
        (zone, stage): tuple(level + off for off in (-0.02, 0.0, 0.02))
        for zone, film in slides.items()
        for stage, level in (("bare", blank), ("applied", blank * film))
    }
    brackets = [
        replace(quiet(stage, 1000.0 * i), tile_u=0.0, bends=bends)
        for i, stage in enumerate(("bare", "applied"))
    ]
    return films_of(readings, brackets=brackets)


def line_of(result: MeasureResult, treatment: str) -> Term:
    (line,) = [t for t in judged(result, treatment).budget.terms if t.name == BEND]
    return line


@pytest.mark.parametrize("film", [0.3, 0.62, 0.88])
def test_an_interval_holds_the_true_film_whatever_bend_the_filter_leaves_open(film: float) -> None:
    """The bend drawn by the filter's certificate, the scatter by the budget: 20 000 trials."""
    found = judged(trial({"wax": film}, (found_at(1), found_at(2))), "wax")
    draw = np.random.default_rng(22)
    bend = draw.normal(0.0, U_PERCENT / 100, 20_000)
    t0, t = 0.92, 0.92 * film
    as_read = np.log((t + 4 * t * (1 - t) * bend) / (t0 + 4 * t0 * (1 - t0) * bend))
    scatter = math.hypot(*(x.contribution for x in found.budget.terms if x.name != BEND))
    errors = as_read - math.log(t / t0) + draw.normal(0.0, scatter, bend.size)
    held = float(np.mean(np.abs(errors) < found.budget.expanded))
    assert 0.94 < held < 0.995


def test_a_filter_moves_a_film_by_what_its_blank_lets_through_more() -> None:
    """By hand: d ln(t/t0)/db = 4 (1 - t) - 4 (1 - t0) = 4 (t0 - t), in parts of the beam."""
    line = line_of(trial({"wax": 0.62}, (found_at(1),)), "wax")
    assert line.u == pytest.approx(U_PERCENT)
    assert line.sensitivity == pytest.approx(4 * (0.92 - 0.92 * 0.62) / 100, rel=1e-6)
    assert line.is_common


def test_what_the_checks_found_of_the_bend_is_a_known_shift() -> None:
    found = judged(trial({"wax": 0.62}, (found_at(1, 0.1), found_at(2, 0.2))), "wax")
    (shift,) = [b for b in found.budget.biases if b.name == BEND]
    assert shift.found == pytest.approx(0.15)
    assert shift.contribution == pytest.approx(0.0015 * 4 * 0.92 * 0.38, rel=1e-6)
    plain = judged(trial({"wax": 0.62}, (found_at(1),)), "wax")
    assert found.budget.expanded == pytest.approx(
        plain.budget.expanded + abs(shift.contribution), rel=1e-6
    )


def test_checks_that_differ_by_more_than_their_doubt_make_the_bend_less_sure() -> None:
    line = line_of(trial({"wax": 0.62}, (found_at(1, -1.0), found_at(2, 1.0))), "wax")
    assert (line.u, line.nu) == (pytest.approx(2.0 / math.sqrt(12)), math.inf)


def test_the_bend_is_known_by_as_many_degrees_of_freedom_as_its_check() -> None:
    few = found_at(1)._replace(nu=6.0)
    assert line_of(trial({"wax": 0.62}, (few,)), "wax").nu == 6.0


def test_films_that_let_as_much_through_share_the_bend_and_it_cancels() -> None:
    result = trial({"wax": 0.62, "seal": 0.62, "oil": 0.3}, (found_at(1),))
    found = standing(result, {t: t for t in ("wax", "seal", "oil")}, "applied")
    assert found is not None
    by_pair = {
        frozenset((p.first, p.second)): abs(line.contribution)
        for p in found.pairs
        for line in p.evaluation.terms
        if line.name == BEND
    }
    assert by_pair[frozenset(("wax", "seal"))] == pytest.approx(0.0, abs=1e-12)
    assert by_pair[frozenset(("wax", "oil"))] > 0.001


def test_two_heads_held_against_one_filter_are_no_two_chances_to_be_right() -> None:
    """Half of the slides under each head: no less than all of them under one."""
    films = {"wax": 0.62, "wax2": 0.62}
    one = line_of(trial(films, (found_at(1),)), "wax").contribution
    readings = {
        (zone, stage): tuple(level + off for off in (-0.02, 0.0, 0.02))
        for zone, film in {"control": 1.0, **films}.items()
        for stage, level in (("bare", 92.0), ("applied", 92.0 * film))
    }
    brackets = [
        replace(quiet(s, at), closing_at_s=at + 15, tile_u=0.0, bends=(found_at(1, head="A"),))
        for s, at in (("bare", 0.0), ("applied", 1000.0))
    ] + [
        replace(quiet(s, at), tile_u=0.0, bends=(found_at(2, head="B"),))
        for s, at in (("bare", 16.0), ("applied", 1016.0))
    ]
    found = judged(films_of(readings, brackets=brackets), "wax")
    lines = [t.contribution for t in found.budget.terms if t.name.startswith(BEND)]
    assert len(lines) == 2
    assert math.hypot(*lines) >= one * (1 - 1e-9)


def test_the_page_says_what_is_in_the_intervals_and_what_is_not() -> None:
    known = trial({"wax": 0.62}, (found_at(1),)).rules
    assert any("How far the checks found the head's scale bent" in rule for rule in known)
    assert not any("take the head's scale to be straight" in rule for rule in known)
    unknown = trial({"wax": 0.62}, ()).rules
    assert any("take the head's scale to be straight" in rule for rule in unknown)
    assert not any("How far the checks found" in rule for rule in unknown)


def test_a_check_tells_the_bend_by_the_piece_nearest_the_middle() -> None:
    """By hand: N50 certified at 48 % reads 48.4 on a scale of 0.1 to 100.1, so off by 0.3."""
    zero = Point("DARK", 0.1, EXACT, 0.0, 0.0)
    points = [
        Point("OPEN", 100.1, EXACT, 100.0, 0.0),
        Point("N50", 48.4, Combined(0.02, 4.0), 48.0, 0.15),
        Point("N10", 10.0, EXACT, 10.0, 0.15),
    ]
    found = bend_of("LG-1", 3, zero, points)
    assert found is not None
    middle = 4 * 0.48 * 0.52
    assert (found.piece, found.ends) == ("N50", (0.0, 100.0))
    assert found.found == pytest.approx(0.3 / middle)
    assert found.u == pytest.approx(math.hypot(0.02, 0.15) / middle)
    assert found.nu == pytest.approx((math.hypot(0.02, 0.15) / 0.02) ** 4 * 4)


def test_a_check_without_a_piece_between_tells_of_no_bend() -> None:
    zero = Point("DARK", 0.0, EXACT, 0.0, 0.0)
    assert bend_of("LG-1", 3, zero, [Point("OPEN", 100.0, EXACT, 100.0, 0.0)]) is None
    assert bend_of("LG-1", 3, zero, []) is None


HALF = {"T1": ("46.5", "46.7", "46.6"), "T2": ("24.6", "24.5", "24.7")}
"""Of a meter that reads half of what is there: certificates count half in its readings."""


@pytest.mark.parametrize("other", [{}, HALF], ids=["a meter that is right", "one of another slope"])
def test_the_bend_is_what_the_judgement_of_the_check_says_of_its_linearity(
    other: dict[str, tuple[str, ...]],
) -> None:
    """The same readings and certificates by the other road, which judges checks in decimals."""
    (line,) = lines(policy("T1", "T2", "Z0"), **other)
    points = []
    for name, (value, u) in CERTIFIED.items():
        read = [float(v) for v in (READ | other)[name]]
        doubt = reading_doubt(statistics.stdev(read), 3, 0.1)
        point = Point(name, statistics.fmean(read), doubt, float(value), float(u) / 2)
        points.append(point)
    found = bend_of("SH-1", 1, points[2], points[:2])
    assert found is not None
    p = 48.6 / 93.2
    assert found.found * 4 * p * (1 - p) == pytest.approx(float(line.departure), abs=1e-4)
    expanded = t_factor(found.nu, 0.95) * found.u * 4 * p * (1 - p)
    assert expanded == pytest.approx(float(line.expanded_uncertainty), rel=0.03)
