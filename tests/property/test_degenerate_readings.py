"""Readings that no bench should give: an answer or a reason, never a figure that is none.

Equal, single, missing, negative, vanishing and huge readings, of zones of any number, with display
steps from none to absurd; a fixed draw a kind of trial.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable

import numpy as np
import pytest

from acquire.analysis.cells.cell import Cell
from acquire.analysis.comparisons.among import among
from acquire.analysis.comparisons.comparison import Comparison, Refusal
from acquire.analysis.results import MeasureResult
from acquire.analysis.samples.summary import MEASURED
from tests.unit.analysis.bench import Readings, has_nan, result_of, texts_in
from tests.unit.film_bench import films_of
from tests.unit.wash_bench import STAGES, washed

NO_FIGURE = re.compile(r"(?<![\w’'])(?:nan|NaN|inf|Infinity|None)(?![\w’'])")
LEVELS = (90.0, 0.0, -5.0, 1e-300, 5e-324, MEASURED, -MEASURED, 1e-12, 100.0)
STEPS = (0.0, 0.1, 1.0, 1e-300, MEASURED)


def _values(draw: np.random.Generator) -> list[float]:
    n, level = int(draw.choice([1, 2, 3, 5])), float(draw.choice(LEVELS))
    kind = int(draw.integers(0, 4))
    if kind == 0:
        return [level] * n
    if kind == 1:
        return [level * (1 - 1e-15 * k) for k in range(n)]
    if kind == 2:
        return [1e-300 * float(draw.random()) for _ in range(n)]
    return [round(90 + float(draw.normal(0, 0.1)), 1) for _ in range(n)]


def _drawn(
    draw: np.random.Generator, stages: tuple[str, ...]
) -> dict[tuple[str, str], list[float]]:
    sides = ["control", "wax", "oil"][: int(draw.integers(1, 4))]
    zones = [f"{side}{k}" for side in sides for k in range(int(draw.integers(1, 4)))]
    return {(z, s): _values(draw) for z in zones for s in stages if draw.random() > 0.08}


def _of_box(readings: Readings, *, resolution: float) -> MeasureResult:
    return films_of(readings, resolution=resolution)


@pytest.mark.parametrize(
    ("make", "stages"),
    [
        (result_of, ("bare", "applied")),
        (films_of, ("bare", "applied")),
        (_of_box, ("applied",)),
    ],
    ids=["gloss", "films", "box"],
)
def test_any_readings_have_an_answer_or_a_reason(
    make: Callable[..., MeasureResult], stages: tuple[str, ...]
) -> None:
    draw = np.random.default_rng(7)
    for _ in range(10):
        readings = _drawn(draw, stages)
        if not readings:
            continue
        found = make(readings, resolution=float(draw.choice(STEPS)))
        cells: dict[str, list[Cell]] = {}
        for cell in found.judged:
            cells.setdefault(cell.treatment, []).append(cell)
        pairs = among(found.comparisons, {n: n for n in cells}, cells, found.basis)
        assert not has_nan((found, pairs))
        assert not any(NO_FIGURE.search(t) for t in texts_in((found, pairs)))
        for c in found.comparisons:
            assert isinstance(c, Comparison) or (isinstance(c, Refusal) and c.reason)
            if isinstance(c, Comparison):
                assert all(map(math.isfinite, c.interval))


def test_any_readings_after_washing_have_an_answer_or_a_reason() -> None:
    draw = np.random.default_rng(8)
    for _ in range(6):
        readings = _drawn(draw, STAGES)
        found = washed(readings, resolution=float(draw.choice(STEPS))) if readings else None
        assert not has_nan(found)
        assert not any(NO_FIGURE.search(t) for t in texts_in(found))
