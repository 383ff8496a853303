"""How often treatments that differ by just the margin are called equal, and what the page says."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from acquire.analysis.results import Sample, measure_results
from acquire.analysis.treatments.decision import Decision
from acquire.model import Zone
from tests.unit.analysis.bench import Readings, judged, plan_of, quiet, result_of
from tests.unit.analysis.equalities import (
    Design,
    alike,
    are_called_equal,
    fewer,
    rate,
    rate_of_slide,
)
from tests.unit.film_bench import films_of

RUNS = 20_000
MARGIN = 1.0


def said_of(zones: dict[str, int]) -> str:
    """The rules of a trial with so many zones of each treatment."""
    readings: Readings = {
        (f"{treatment}{k}", stage): (90.0, 90.1)
        for treatment, number in zones.items()
        for k in range(number)
        for stage in ("bare", "applied")
    }
    return " ".join(result_of(readings, margin="1").rules)


def test_the_page_says_under_which_condition_equality_errs_in_5_of_100() -> None:
    said = said_of({"control": 3, "wax": 3, "oil": 3})
    assert "each treatment for itself, with several zones a treatment if all treatments spread" in (
        said
    )
    assert "three times as much as the others, up to 12 %, and up to 14 % where it has fewer" in (
        said
    )
    assert "differed by just the margin up to 20 and 28 were called equal" in (
        said_of({"control": 3, "wax": 3, "oil": 1})
    )


def test_what_is_said_of_films_beside_blanks_has_no_zones_of_treatments_in_it() -> None:
    slides: Readings = {
        (zone, "applied"): (92.0 - k / 100,)
        for k, zone in enumerate(("control", "control2", "wax"))
    }
    said = " ".join(films_of(slides, margin="1").rules)
    assert "each treatment for itself, by the same rule" in said
    assert "differed by just a margin 16 and 24 were called equal" in said


@pytest.mark.parametrize(
    ("designs", "most"),
    [
        (list(alike((1.0,))), 0.05),
        (list(alike((2.0,))), 0.09),
        (list(alike((3.0,))), 0.12),
        (list(fewer(2, (2.0,))), 0.11),
        (list(fewer(2, (3.0,))), 0.14),
        (list(fewer(1, (2.0,))), 0.20),
        (list(fewer(1, (3.0,))), 0.28),
    ],
)
def test_drawn_treatments_at_the_margin_are_called_equal_as_often_as_the_page_says(
    designs: list[Design], most: float
) -> None:
    small = [d for d in designs if sum(d.zones) <= 45]
    largest = max(rate(d, RUNS // 4) for d in small)
    assert 0.75 * most < largest < most + 0.02


def test_one_slide_beside_blanks_is_called_equal_as_often_as_the_page_says() -> None:
    found = [round(100 * rate_of_slide(5, spread, 10 * RUNS)) for spread in (1.0, 2.0, 3.0)]
    assert found == [5, 16, 24]


@pytest.mark.parametrize("in_blocks", [False, True])
def test_what_was_drawn_is_decided_as_results_decide_it(in_blocks: bool) -> None:
    """The same changes of zones by the way that results go, two readings each."""
    source = np.random.default_rng(4)
    zones = (3, 3, 3, 3) if in_blocks else (3, 2, 4, 2)
    names = ("control", "wax", "oil", "spray")
    runs = 60
    spreads = (0.25, 0.25, 0.25, 0.5)
    changes = [
        source.normal(0, spread, size=(runs, n)) for n, spread in zip(zones, spreads, strict=True)
    ]
    changes[3] += 0.5
    expected = are_called_equal(changes, 3, MARGIN, in_blocks=in_blocks)
    assert 10 < expected.sum() < runs - 10
    ids = [f"{name}{k}" for name, n in zip(names, zones, strict=True) for k in range(n)]
    plan, measure = plan_of(ids, margin=str(MARGIN))
    if in_blocks:
        dealt = tuple(Zone(z.id, z.treatment, block=int(z.id[-1]) + 1) for z in plan.zones)
        plan = replace(plan, zones=dealt)
    for run in range(runs):
        samples = []
        for name, own in zip(names, changes, strict=True):
            for k, change in enumerate(own[run]):
                for at, level in ((0.0, 80.0), (1000.0, 80.0 + float(change))):
                    stage = "applied" if at else "bare"
                    samples += [
                        Sample(f"{name}{k}", name, stage, n + 1, "60", level + off,
                               at + 10.0 * (n + 1), 0)
                        for n, off in enumerate((-1e-7, 1e-7))
                    ]  # fmt: skip
        numbered = [replace(sample, reading_id=n) for n, sample in enumerate(samples)]
        brackets = [quiet("bare", 0.0), quiet("applied", 1000.0)]
        (result,) = measure_results(plan, measure, numbered, brackets, 1e-9)
        assert (judged(result, "spray").decision is Decision.EQUAL) == expected[run]
