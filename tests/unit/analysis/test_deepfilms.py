"""Films of unlike depth, whose slides tell together how slides differ, and what is said of them."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping

import numpy as np
import pytest

from acquire.analysis.budget.uncertainty import degrees
from acquire.analysis.budgetproof import proof_of
from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.places.standing import standing
from acquire.analysis.results import MeasureResult
from acquire.analysis.rules.filmrules import DEEPER
from acquire.analysis.specimens import zonelines
from acquire.analysis.specimens.depthlaw import is_at_depth
from acquire.analysis.treatments.decision import Decision
from acquire.report.answers.headline import is_of_all
from acquire.report.answers.standings import pairs_said
from tests.unit.analysis.bench import judged
from tests.unit.film_bench import films_of

WEAK = {"nil": 0.0, "weak": 0.01, "mid": 0.05}
"""Depths in natural logarithms; the film that lets 22 % through has 1.5."""


def drawn(
    depths: Mapping[str, float],
    slides: int,
    source: np.random.Generator,
    *,
    stages: tuple[str, ...] = ("bare", "applied"),
    counts: Mapping[str, int] | None = None,
    lamp: float = 0.0,
    in_blocks: bool = False,
) -> MeasureResult:
    """Slides that are their own blanks, of films whose thickness varies by 5 % of itself.

    `counts` says of how many slides a treatment has others, `lamp` by how much the lamp changed, as
    a part of itself; in blocks what lies together has a change of its own.
    """
    readings = {}
    courses = source.normal(0.0, 0.002, slides) if in_blocks else np.zeros(slides)
    for treatment, depth in {"control": 0.0, **depths}.items():
        for number in range((counts or {}).get(treatment, slides)):
            blank = 91.0 + source.normal(0.0, 0.2)
            own = depth * (1 + source.normal(0.0, 0.05)) + courses[number] - math.log1p(lamp)
            for stage in stages:
                light = blank if stage == "bare" else blank * math.exp(-own)
                values = np.round(source.normal(light, 0.03, 3), 2)
                readings[f"{treatment}{number}", stage] = tuple(map(float, values))
    return films_of(readings, resolution=0.01, in_blocks=in_blocks)


def missed(result: MeasureResult, depths: Mapping[str, float]) -> set[str]:
    """Films whose interval does not hold what was drawn."""
    found = set()
    for name, depth in depths.items():
        film = judged(result, name).film
        assert film is not None
        low, high = film.interval
        if not low <= math.exp(-depth) <= high:
            found.add(name)
    return found


@pytest.mark.parametrize(("slides", "deep"), [(2, 1.5), (3, 1.5), (5, 1.5), (2, 2.5), (3, 0.5)])
def test_one_film_far_deeper_than_all_others_is_held_in_93_of_100_drawn_trials(
    slides: int, deep: float
) -> None:
    source, runs, found, false = np.random.default_rng(41), 75, 0, 0
    depths = {**WEAK, "deep": deep}
    for _ in range(runs):
        result = drawn(depths, slides, source)
        found += bool(missed(result, depths))
        false += judged(result, "nil").is_difference_shown
    assert found / runs <= 0.07
    assert false / runs <= 0.02


def test_within_blocks_one_film_far_deeper_than_all_others_is_held_as_often() -> None:
    source, runs, found = np.random.default_rng(44), 75, 0
    depths = {**WEAK, "deep": 1.5}
    for _ in range(runs):
        result = drawn(depths, 2, source, in_blocks=True)
        assert judged(result, "deep").blocks == 2
        found += bool(missed(result, depths))
    assert found / runs <= 0.07


@pytest.mark.parametrize("slides", [2, 3])
def test_the_intervals_of_the_other_films_stay_as_wide_as_if_all_slides_differed_alike(
    slides: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    names, seeds = (*WEAK, "deep"), range(20, 45)

    def widths() -> dict[str, float]:
        trials = [drawn({**WEAK, "deep": 1.5}, slides, np.random.default_rng(k)) for k in seeds]
        return {
            name: sum(judged(result, name).budget.expanded for result in trials) / len(trials)
            for name in names
        }

    by_depth = widths()
    monkeypatch.setattr(zonelines, "beyond_pool", lambda *_: None)
    alike = widths()
    for name in WEAK:
        assert by_depth[name] == pytest.approx(alike[name], rel=0.05)
    assert by_depth["deep"] > 1.3 * alike["deep"]


def test_films_of_one_depth_are_held_together_in_95_of_100_drawn_trials() -> None:
    source, runs, held = np.random.default_rng(42), 150, 0
    depths = {"one": 1.5, "two": 1.5, "three": 1.2, "four": 1.4}
    for _ in range(runs):
        result = drawn(depths, 2, source)
        held += not missed(result, depths)
    assert held / runs >= 0.93


def test_the_condition_is_said_where_slides_of_all_films_tell_together_and_only_there() -> None:
    source = np.random.default_rng(43)
    several = drawn({"weak": 0.01, "deep": 1.5}, 2, source)
    single = drawn({"weak": 0.01, "deep": 1.5}, 1, source)
    two = drawn({"deep": 1.5}, 3, source)
    box = drawn({"weak": 0.01, "deep": 1.5}, 3, source, stages=("applied",))
    for result, is_said in ((several, True), (single, False), (two, False), (box, False)):
        assert any(DEEPER in rule for rule in result.rules) is is_said
        assert any(is_of_all(found) for found in result.comparisons) is is_said


_SAID = re.compile(r"√\(([\d.]+)² \+ \(([\d.]+) × ([\d.]+)\)²\)")


@pytest.mark.parametrize("in_blocks", [False, True], ids=["by slides", "within blocks"])
def test_the_budget_of_a_deep_film_recomputes_from_what_it_prints_and_by_other_roads(
    in_blocks: bool,
) -> None:
    source, printed = np.random.default_rng(49), 0
    for slides in (2, 3, 4, 5, 2, 3, 4, 5):
        result = drawn({**WEAK, "deep": 1.5}, slides, source, in_blocks=in_blocks)
        found = judged(result, "deep")
        assert proof_of(found, result, draws=20_000).holds
        line = found.budget.terms[0]
        if not is_at_depth(line):
            assert "their own is taken" in line.note
            continue
        said = _SAID.search(line.note)
        assert said is not None
        level, part, depth = map(float, said.groups())
        sd = line.u * (math.sqrt(slides) if in_blocks else 1.0)
        if "their own is taken" not in line.note:
            assert math.hypot(level, part * depth) == pytest.approx(sd, rel=0.01)
            printed += 1
        assert f"at {degrees(line.nu)} degrees of freedom" in found.budget.coverage_rule
    assert printed >= 2


def test_what_the_lamp_did_in_the_meantime_is_in_no_depth() -> None:
    still, drifted = (
        judged(drawn({**WEAK, "deep": 1.5}, 3, np.random.default_rng(46), lamp=lamp), "deep")
        for lamp in (0.0, -0.03)
    )
    assert drifted.estimate == pytest.approx(still.estimate, rel=0.002)
    assert drifted.budget.terms[0].nu == pytest.approx(still.budget.terms[0].nu, rel=0.15)
    assert drifted.budget.expanded == pytest.approx(still.budget.expanded, rel=0.1)


def test_a_deep_film_of_a_single_slide_is_held_by_what_films_of_some_depth_tell() -> None:
    source, runs, found = np.random.default_rng(47), 50, 0
    depths = {"one": 0.1, "two": 0.2, "three": 0.4, "deep": 1.5}
    for _ in range(runs):
        found += bool(missed(drawn(depths, 3, source, counts={"deep": 1}), depths))
    assert found / runs <= 0.07


def test_beside_films_without_depth_a_deep_film_of_a_single_slide_is_judged_as_that_slide() -> None:
    source = np.random.default_rng(50)
    for _ in range(5):
        result = drawn({"nil": 0.0, "none": 0.0, "deep": 1.5}, 2, source, counts={"deep": 1})
        deep, nil = judged(result, "deep"), judged(result, "nil")
        assert nil.is_of_zones
        assert not deep.is_of_zones
        assert "This is about the zones read: one stands for Deep." in deep.sentence
        assert deep.budget.expanded < 0.1


def test_a_slight_film_of_a_single_slide_is_judged_by_how_slides_of_others_differ() -> None:
    """Slides differ by 0.2 % after coating: by the readings alone 44 of 100 were missed."""
    source, runs, of_slides, found = np.random.default_rng(52), 60, 0, 0
    depths = {"nil": 0.0, "none": 0.0, "slight": 0.01}
    for _ in range(runs):
        readings = {}
        for treatment, depth in {"control": 0.0, **depths}.items():
            for number in range(1 if treatment == "slight" else 3):
                blank = 91.0 + source.normal(0.0, 0.2)
                after = blank * math.exp(-depth + source.normal(0.0, 0.002))
                for stage, light in (("bare", blank), ("applied", after)):
                    values = np.round(source.normal(light, 0.03, 3), 2)
                    readings[f"{treatment}{number}", stage] = tuple(map(float, values))
        result = films_of(readings, resolution=0.01)
        of_slides += judged(result, "slight").is_of_zones
        found += "slight" in missed(result, depths)
    assert of_slides / runs >= 0.8
    assert found / runs <= 0.15


def test_slides_that_agree_to_the_last_digit_are_judged_by_the_step_of_the_display() -> None:
    readings = {
        (f"{name}{number}", stage): (light if stage == "applied" else 91.0,) * 3
        for name, light in {"control": 91.0, "weak": 90.0, "deep": 20.3}.items()
        for number in range(2)
        for stage in ("bare", "applied")
    }
    result = films_of(readings, resolution=0.01)
    for found in result.comparisons:
        assert isinstance(found, Comparison)
        assert found.decision is Decision.BETTER
        assert 0 < found.budget.expanded < 0.05
        assert math.isfinite(found.smallest_visible)


def test_the_page_says_that_a_deep_film_is_judged_by_slides_of_its_depth() -> None:
    source = np.random.default_rng(48)
    result = drawn({**WEAK, "deep": 1.5}, 3, source)
    deep, mid = judged(result, "deep"), judged(result, "mid")
    assert any("by what slides of this depth spread" in said for said in deep.caveats)
    assert not any("by what slides of this depth spread" in said for said in mid.caveats)
    assert "One scatter stands for 3 of 4 treatments" in mid.budget.coverage_rule


@pytest.mark.parametrize("in_blocks", [False, True], ids=["by slides", "within blocks"])
def test_two_films_of_one_another_go_by_the_scatter_at_their_depth_and_the_page_says_so(
    in_blocks: bool,
) -> None:
    source, runs, different = np.random.default_rng(51), 25, 0
    depths = {"nil": 0.0, "mid": 0.05, "deep": 1.5, "dark": 1.5}
    for _ in range(runs):
        result = drawn(depths, 3, source, in_blocks=in_blocks)
        found = standing(result, {name: name for name in depths}, "applied", draws=2000)
        assert found is not None
        pairs = {frozenset((pair.first, pair.second)): pair for pair in found.pairs}
        alike, slight = pairs[frozenset(("deep", "dark"))], pairs[frozenset(("nil", "mid"))]
        different += alike.decision in (Decision.BETTER, Decision.WORSE)
        assert "(Tukey)" in slight.rule
        deeper = pairs[frozenset(("nil", "deep"))]
        if is_at_depth(deeper.evaluation.terms[0]):
            assert "with the scatter at the depth of these two films" in deeper.rule
            assert "or films by the same part of their depth." in pairs_said(found)
    assert different <= 2
