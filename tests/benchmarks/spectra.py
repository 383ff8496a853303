"""A thousand spectra to all bands: what a trial's slides cost when the report is made.

The baseline is the least that anyone would do: `numpy.trapezoid` of the same spectra over one
band, or over each, without weights, without a look at what is missing, with no point at the limit
of the band. Both run in turns in one process.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Iterable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from acquire.analysis.transmission.definition import UVA
from acquire.analysis.transmission.reduce import reduce_spectra
from acquire.analysis.transmission.weights import standard_definitions
from tests.benchmarks.result import Result

SPECTRA, POINTS = 1_000, 2_048
TRIES = 7


def measure_spectra(folder: Path) -> list[Result]:
    """Seconds for whole spectra, and for spectra that each miss points at places of their own."""
    definitions = standard_definitions()
    rng = np.random.default_rng(20)
    x = np.linspace(270.0, 2510.0, POINTS)
    whole = rng.random((SPECTRA, POINTS))
    holed = whole.copy()
    holed[rng.random(whole.shape) < 0.001] = np.nan
    bands = [(x >= d.band.lower_nm) & (x <= d.band.upper_nm) for d in definitions]
    one = bands[[d.band for d in definitions].index(UVA)]

    def trapezoid(inside: Iterable[NDArray[np.bool_]]) -> None:
        for part in inside:
            np.trapezoid(whole[:, part], x[part], axis=1) / np.ptp(x[part])

    rows = (
        ("whole", whole, "over one", [one]),
        ("whole", whole, "over each", bands),
        ("with over-range points", holed, "over each", bands),
    )
    results = []
    for name, spectra, beside, inside in rows:
        ours, plain = [], []
        for _ in range(TRIES):
            ours.append(_spent(lambda s=spectra: _check(reduce_spectra(x, s, definitions))))
            plain.append(_spent(lambda i=inside: trapezoid(i)))
        results.append(
            Result(
                f"{SPECTRA:,} spectra of {POINTS:,} points, {name}, to {len(definitions)} bands, "
                f"beside numpy.trapezoid {beside}",
                "s", statistics.median(ours), statistics.median(plain), 1.0, True, False,
            )
        )  # fmt: skip
    return results


def _check(columns: tuple[object, ...]) -> None:
    """A band without a value would make the figure too good."""
    assert all(column.has_value.all() for column in columns)  # type: ignore[attr-defined]


def _spent(act: Callable[[], object]) -> float:
    begun = time.perf_counter()
    act()
    return time.perf_counter() - begun
