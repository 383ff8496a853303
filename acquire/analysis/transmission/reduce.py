"""Spectra to bands: many at once for speed, each figure with what it rests on.

A band whose weight is covered to less than `LEAST_COVERED` has no value but a reason; a smaller
shortfall is told beside the value, with the most that it can have changed. Points that are not
finite (over the range of the head, no light) are missing, never filled in. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from acquire.analysis.transmission.coverage import Coverage, cover, rising, unseen
from acquire.analysis.transmission.definition import Definition, Vector

LEAST_COVERED = 0.9999
"""What is missing of a transmittance between 0 and 1 can change the value by its weight at most:
1e-4, or 0.01 %, a step of a common display. A setting (common practice, no source)."""


@dataclass(frozen=True, slots=True, eq=False)
class BandColumn:
    """One band of m spectra.

    `values` (m,) are parts of 1 and 0 where `has_value` is False; `covered` (m,) is the covered
    part of the weight. `name` has band and weights.
    """

    definition: Definition
    values: Vector
    has_value: NDArray[np.bool_]
    covered: Vector

    @property
    def name(self) -> str:
        return self.definition.name


def reduce_spectra(
    wavelength_nm: Vector,
    transmittance: Vector,
    definitions: Sequence[Definition],
    *,
    least_covered: float = LEAST_COVERED,
) -> tuple[BandColumn, ...]:
    """Every definition of m spectra (m, n) on one grid (n,), parts of 1; not finite is missing.

    Raises ValueError for a grid that does not rise, for another shape, or a `least_covered` that
    is not above 0 and up to 1.
    """
    x = rising(wavelength_nm)
    spectra = np.asarray(transmittance, dtype=np.float64)
    if spectra.ndim != 2 or spectra.shape[1] != x.size:
        raise ValueError(
            f"spectra in rows of {x.size} points are wanted, as many as wavelengths, got shape "
            f"{spectra.shape}"
        )
    _check_least(least_covered)
    is_there = np.isfinite(spectra)
    is_whole = bool(is_there.all())
    # Points that no spectrum has are no points of the grid.
    common: NDArray[np.bool_] = np.ones(x.size, dtype=np.bool_)
    if not is_whole:
        common = np.asarray(is_there.any(axis=0), dtype=np.bool_)
    covers = [cover(x, definition, common) for definition in definitions]
    factors = np.array([c.factors for c in covers]).reshape(len(covers), x.size)
    values = (spectra if is_whole else np.where(is_there, spectra, 0.0)) @ factors.T
    covered = np.broadcast_to([c.part for c in covers], values.shape).copy()
    if not is_whole:
        _mend(x, spectra, is_there, common, definitions, factors, values, covered)
    has_value = covered >= least_covered
    values[~has_value] = 0.0
    return tuple(
        BandColumn(d, values[:, k].copy(), has_value[:, k].copy(), covered[:, k].copy())
        for k, d in enumerate(definitions)
    )


def _mend(
    x: Vector,
    spectra: Vector,
    is_there: NDArray[np.bool_],
    common: NDArray[np.bool_],
    definitions: Sequence[Definition],
    factors: Vector,
    values: Vector,
    covered: Vector,
) -> None:
    """Do over, in place, the spectra that miss points.

    Where the points beside a hole are near enough the straight line fills it, which leaves the
    factors as they are; only where a hole makes a gap in a band are they made anew.
    """
    steps = {definition.widest_step_nm for definition in definitions}
    known = {step: set(unseen(x[common], step)) for step in steps} if common.any() else {}
    for row in np.flatnonzero(~is_there[:, common].all(axis=1)):
        kept = is_there[row]
        if np.count_nonzero(kept) < 2:
            values[row], covered[row] = 0.0, 0.0
            continue
        at = x[kept]
        values[row] = factors @ np.interp(x, at, spectra[row, kept])
        fresh = {step: [s for s in unseen(at, step) if s not in known[step]] for step in steps}
        for k, definition in enumerate(definitions):
            band = definition.band
            if any(
                s.lower_nm < band.upper_nm and s.upper_nm > band.lower_nm
                for s in fresh[definition.widest_step_nm]
            ):
                found = cover(x, definition, kept)
                covered[row, k] = found.part
                values[row, k] = found.factors[kept] @ spectra[row, kept]


def shortfall(found: Coverage, definition: Definition, least_covered: float) -> str:
    """What is to be said of a band that is not covered whole; empty where it is."""
    _check_least(least_covered)
    if not found.gaps:
        return ""
    where = ", ".join(map(str, found.gaps))
    missing = 1 - found.part
    if found.part >= least_covered:
        return (
            f"{definition.name}: {where} was not measured, {_percent(missing)} of the weight. The "
            f"value is of the rest; the missing part can change it by {missing:.2g} at most while "
            "it lies between 0 and 1."
        )
    limit = definition.widest_step_nm
    rule = f"{limit:g} nm" if limit is not None else "5 nm (10 from 400 nm, 50 from 780 nm)"
    return (
        f"{definition.name} has no value: {where} was not measured, {_percent(missing)} of the "
        f"weight, and nothing is extrapolated. Steps wider than {rule} and points without a figure "
        "are gaps. Next: measure the whole band, or ask for a band that was measured."
    )


def _percent(part: float) -> str:
    return f"{100 * part:.3g} %"


def _check_least(least_covered: float) -> None:
    if not 0 < least_covered <= 1:
        raise ValueError(f"a covered part above 0 and up to 1 is wanted, got {least_covered}")
