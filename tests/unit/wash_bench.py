"""Trials with washes for the analysis tests, in a few words. Invented data only."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

import numpy as np

from acquire.analysis.cells.onesided import OneSided
from acquire.analysis.durability.washresult import TreatmentLife, WashResult, wash_result
from acquire.analysis.results import measure_results
from acquire.model import EndOfLife, Plan
from tests.unit.analysis.bench import plan_of, quiet, samples_of

STAGES = ("bare", "applied", "wash-5", "wash-10", "wash-20")
COUNTS = (("wash-5", 5), ("wash-10", 10), ("wash-20", 20))
HALF = EndOfLife(lost=Decimal("0.5"))
_SCATTER = (-0.1, 0.05, 0.0, -0.05, 0.1)

Levels = Mapping[str, Sequence[float | None]]
"""The level of a zone at each stage; None where it was not read."""


def readings_of(
    levels: Levels, scatter: Sequence[float] = _SCATTER, source: np.random.Generator | None = None
) -> dict[tuple[str, str], list[float]]:
    """Readings about these levels: the same scatter everywhere, or as large, drawn at random."""
    sd = float(np.std(scatter, ddof=1))
    return {
        (zone, stage): [
            level + (d if source is None else float(source.normal(0, sd))) for d in scatter
        ]
        for zone, row in levels.items()
        for stage, level in zip(STAGES, row, strict=False)
        if level is not None
    }


def washed(
    readings: Mapping[tuple[str, str], Sequence[float]],
    *,
    end: EndOfLife | None = HALF,
    counts: Sequence[tuple[str, int]] = COUNTS,
    stages: Sequence[str] = STAGES,
    higher_is_better: bool = True,
    resolution: float = 0.0,
    one_sided: OneSided | None = None,
) -> WashResult | None:
    """What the readings say of wash life; zones are named after their treatments."""
    zones = list(dict.fromkeys(zone for zone, _ in readings))
    plan, measure = plan_of(zones, stages, higher_is_better=higher_is_better, replicates=5)
    measure = replace(measure, end_of_life=end)
    full: Plan = replace(plan, measures=(measure,), washes=tuple(counts))
    brackets = [quiet(stage, 1000.0 * i) for i, stage in enumerate(stages)]
    samples = [
        replace(s, at_s=1000.0 * stages.index(s.stage) + s.at_s % 1000)
        for s in samples_of(readings)
    ]
    beyond = dict.fromkeys(measure.channels, one_sided or {})
    (result,) = measure_results(full, measure, samples, brackets, resolution, one_sided=beyond)
    return wash_result(full, measure, result)


def only(found: WashResult | None, name: str = "wax") -> TreatmentLife:
    """The entry of one treatment."""
    assert found is not None
    return next(t for t in found.treatments if t.treatment == name)
