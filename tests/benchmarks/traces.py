"""A million samples of force cut into pulls, beside a plain numpy pass over the same samples.

The baseline is a cumulative sum and the rolling mean from it: what a single smoothing costs.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from acquire.analysis.slickness.rules import Rules
from acquire.analysis.slickness.segment import segment
from tests.benchmarks.result import Result
from tests.pulls.traces import TrueTrace, drawn

SAMPLES = 1_000_000
TRIES = 5
GOAL_S = 1.0


def measure_traces(folder: Path) -> list[Result]:
    """Seconds for a million samples at about 1,000 and about 10,000 a second."""
    return [_at(700, 1500), _at(7000, 10_000)]


def _at(low_hz: float, high_hz: float) -> Result:
    true = next(t for t in map(drawn, range(10_000)) if low_hz < t.rate_hz < high_hz)
    force = np.resize(true.force_n, SAMPLES)
    rules = Rules.for_weight(true.weight_n, range_n=true.range_n)
    ours, plain = [], []
    for _ in range(TRIES):
        ours.append(_spent(lambda: _found(force, true, rules)))
        plain.append(_spent(lambda: _rolling_mean(force)))
    return Result(
        f"a million samples, {true.rate_hz:,.0f} a second, cut into pulls",
        "s", statistics.median(ours), statistics.median(plain), GOAL_S, True, False,
    )  # fmt: skip


def _found(force: NDArray[np.float64], true: TrueTrace, rules: Rules) -> None:
    assert segment(force, true.rate_hz, rules).pulls


def _rolling_mean(force: NDArray[np.float64], length: int = 50) -> NDArray[np.float64]:
    total = np.cumsum(force)
    return (total[length:] - total[:-length]) / length


def _spent(act: Callable[[], object]) -> float:
    begun = time.perf_counter()
    act()
    return time.perf_counter() - begun
