"""One spectrum to one band: the value with its uncertainty, by source, and what is missing of it.

The mean of a band is a sum over the points (`coverage`), so its uncertainty is the same sum: over
points that scatter independently the squares add up, of an error common to all points the values.
GUM 5.1.2 and 5.2.2. Linear interpolation itself is taken as exact: how far a coarse grid misses a
sharp edge is no part of it, so state the step. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from acquire.analysis.transmission.coverage import Coverage, Stretch, cover
from acquire.analysis.transmission.definition import Definition, Vector
from acquire.analysis.transmission.reduce import LEAST_COVERED, shortfall
from acquire.analysis.transmission.spectrum import Spectrum


@dataclass(frozen=True, slots=True)
class BandValue:
    """A transmittance (part of 1) of one band with its weights.

    `value` and `u` are None where too little of the band was measured; `note` says what is
    missing, and is empty where nothing is. `covered` is the measured part of the weight, `gaps`
    the rest. `parts` are the contributions to `u` by source. `u` is 0 for a spectrum that came
    without uncertainty.
    """

    definition: Definition
    value: float | None
    u: float | None
    covered: float
    gaps: tuple[Stretch, ...]
    parts: Mapping[str, float]
    note: str

    @property
    def name(self) -> str:
        """Band and weights."""
        return self.definition.name


def band_value(
    read: Spectrum, definition: Definition, *, least_covered: float = LEAST_COVERED
) -> BandValue:
    """The mean of a spectrum over a band. Raises ValueError for a `least_covered` not in (0, 1]."""
    found = cover(read.wavelength_nm, definition, read.is_there)
    note = shortfall(found, definition, least_covered)
    if found.part < least_covered:
        return BandValue(definition, None, None, found.part, found.gaps, {}, note)
    factors = found.factors
    parts = {name: float(np.linalg.norm(factors * d)) for name, d in read.doubts.items()}
    for name, shift in read.common.items():
        parts[name] = math.hypot(parts.get(name, 0.0), float(factors @ shift))
    return BandValue(
        definition, float(factors @ read.values), math.hypot(*parts.values()), found.part,
        found.gaps, parts, note,
    )  # fmt: skip


def covariance(first: Spectrum, one: Definition, second: Spectrum, other: Definition) -> float:
    """Of two band values, by the sources that both spectra share; on one grid.

    Two bands of one spectrum are correlated where they overlap. Raises ValueError where the grids
    differ or a band has no value.
    """
    if not np.array_equal(first.wavelength_nm, second.wavelength_nm):
        raise ValueError("a covariance is taken point by point: one grid is wanted, got two")
    a, b = _factors(first, one), _factors(second, other)
    total = 0.0
    for name in first.doubts.keys() & second.doubts.keys():
        total += float((a * first.doubts[name]) @ (b * second.doubts[name]))
    for name in first.common.keys() & second.common.keys():
        total += float((a @ first.common[name]) * (b @ second.common[name]))
    return total


def _factors(read: Spectrum, definition: Definition) -> Vector:
    found: Coverage = cover(read.wavelength_nm, definition, read.is_there)
    if not found.part >= LEAST_COVERED:
        raise ValueError(shortfall(found, definition, LEAST_COVERED))
    return found.factors
