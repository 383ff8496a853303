"""What of a band a grid of wavelengths covers, and the sum over its points that makes the mean.

Between two neighbouring points the spectrum is a straight line, where they lie no farther apart
than the definition allows; a wider step is a gap, as is whatever lies before the first point and
behind the last. A straight line makes the mean of a band a sum of the points, each with a factor
that depends on the grid alone: so a thousand spectra cost one product of matrices, and
uncertainty goes through the same factors. Nothing is extrapolated. Pure; any thread.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from acquire.analysis.transmission.definition import (
    COARSE_NM,
    FINE_NM,
    FINE_UNTIL_NM,
    MIDDLE_NM,
    MIDDLE_UNTIL_NM,
    Definition,
    Rule,
    Vector,
)

# Widths are differences of floats: a step of 5 nm may come out as 5.000000001.
_SLACK = 1 + 1e-9


class Stretch(NamedTuple):
    """A part of a band, limits in nm."""

    lower_nm: float
    upper_nm: float

    def __str__(self) -> str:
        return f"{self.lower_nm:g} to {self.upper_nm:g} nm"


class Coverage(NamedTuple):
    """The mean of a band as a sum over the points of a grid.

    `factors` has the shape (n,) of the grid and adds up to 1; all are zero where nothing is
    covered. `part` is the covered part of the weight, 0 to 1, and `gaps` what is not covered.
    """

    factors: Vector
    part: float
    gaps: tuple[Stretch, ...]


def rising(wavelength_nm: Vector) -> Vector:
    """The wavelengths, shape (n,), checked: at least two, finite, above zero and rising.

    Raises ValueError that says what is wrong and where.
    """
    x = np.asarray(wavelength_nm, dtype=np.float64)
    if x.ndim != 1 or x.size < 2:
        raise ValueError(f"a row of at least two wavelengths is wanted, got shape {x.shape}")
    if not (np.isfinite(x).all() and x[0] > 0):
        raise ValueError("wavelengths in nm must be finite and above zero")
    if not (np.diff(x) > 0).all():
        k = int(np.argmin(np.diff(x) > 0))
        raise ValueError(
            f"wavelengths must rise from point to point, got {x[k]:g} and then {x[k + 1]:g} nm; "
            "sort the spectrum, and average points of the same wavelength"
        )
    return x


def cover(
    wavelength_nm: Vector, definition: Definition, is_there: NDArray[np.bool_] | None = None
) -> Coverage:
    """Factors, covered part and gaps of a definition on a grid (n,) that has been `rising`.

    Where `is_there` (n,) is False the spectrum has no figure: the factor is 0, and the straight
    line between the points on both sides stands for it if they are near enough.
    """
    if is_there is not None and not is_there.all():
        return _cover_holed(wavelength_nm, definition, is_there)
    return _covered(wavelength_nm, definition, wavelength_nm)


def _cover_holed(x: Vector, definition: Definition, is_there: NDArray[np.bool_]) -> Coverage:
    factors = np.zeros_like(x)
    if np.count_nonzero(is_there) < 2:
        return Coverage(
            factors, 0.0, (Stretch(definition.band.lower_nm, definition.band.upper_nm),)
        )
    found = _covered(x[is_there], definition, x)
    factors[is_there] = found.factors
    return Coverage(factors, found.part, found.gaps)


def _covered(wavelength_nm: Vector, definition: Definition, marks_nm: Vector) -> Coverage:
    """`marks_nm` are where the trapezoid has its corners, beside those of the table."""
    low, high = definition.band.lower_nm, definition.band.upper_nm
    open_stretches = unseen(wavelength_nm, definition.widest_step_nm)
    gaps = _inside(open_stretches, low, high)
    weights = definition.weights
    if weights is not None and weights.rule is Rule.ORDINATES:
        nodes, share = weights.wavelength_nm, weights.weight
        is_seen = _is_seen(nodes, open_stretches)
        missed = nodes[~is_seen & (share > 0)]
        gaps = tuple(g for g in gaps if ((missed >= g.lower_nm) & (missed <= g.upper_nm)).any())
        whole = float(share.sum())
        share = np.where(is_seen, share, 0.0)
    else:
        inner = [marks_nm] if weights is None else [marks_nm, weights.wavelength_nm]
        nodes = np.unique(np.concatenate([*inner, np.array([low, high])]))
        nodes = nodes[(nodes >= low) & (nodes <= high)]
        density = (
            np.ones_like(nodes)
            if weights is None
            else np.interp(nodes, weights.wavelength_nm, weights.weight)
        )
        half = np.diff(nodes) / 2
        whole = float((half * (density[:-1] + density[1:])).sum())
        half = np.where(_is_seen((nodes[:-1] + nodes[1:]) / 2, open_stretches), half, 0.0)
        share = np.zeros_like(nodes)
        share[:-1] += half * density[:-1]
        share[1:] += half * density[1:]
    seen = float(share.sum())
    if not seen > 0:
        return Coverage(np.zeros_like(wavelength_nm), 0.0, gaps)
    part = seen / whole if gaps else 1.0
    return Coverage(spread(wavelength_nm, nodes, share / seen), part, gaps)


def spread(wavelength_nm: Vector, nodes: Vector, share: Vector) -> Vector:
    """Shares at `nodes` (m,) put on the points of the grid (n,) as linear interpolation has it.

    A node at a point goes to that point alone. Nodes outside the grid must have no share.
    """
    used = share != 0
    at, part = nodes[used], share[used]
    left = np.clip(np.searchsorted(wavelength_nm, at, side="right") - 1, 0, wavelength_nm.size - 2)
    begin = wavelength_nm[left]
    right = (at - begin) / (wavelength_nm[left + 1] - begin)
    n = wavelength_nm.size
    factors = np.zeros(n)
    factors += np.bincount(left, part * (1 - right), n)
    factors += np.bincount(left + 1, part * right, n)
    return factors


def unseen(x: Vector, widest_step_nm: float | None) -> tuple[Stretch, ...]:
    """The open stretches, over all wavelengths, on which a spectrum at the points `x` is silent."""
    begin = x[:-1]
    widest = (
        np.where(
            begin < FINE_UNTIL_NM, FINE_NM, np.where(begin < MIDDLE_UNTIL_NM, MIDDLE_NM, COARSE_NM)
        )
        if widest_step_nm is None
        else np.full_like(begin, widest_step_nm)
    )
    wide = np.flatnonzero(np.diff(x) > widest * _SLACK)
    between = [Stretch(float(x[k]), float(x[k + 1])) for k in wide]
    return (Stretch(-math.inf, float(x[0])), *between, Stretch(float(x[-1]), math.inf))


def _inside(stretches: tuple[Stretch, ...], low: float, high: float) -> tuple[Stretch, ...]:
    """What of rising stretches lies in a band, those that touch as one."""
    merged: list[Stretch] = []
    for stretch in stretches:
        a, b = max(low, stretch.lower_nm), min(high, stretch.upper_nm)
        if b <= a:
            continue
        if merged and a <= merged[-1].upper_nm:
            merged[-1] = Stretch(merged[-1].lower_nm, b)
        else:
            merged.append(Stretch(a, b))
    return tuple(merged)


def _is_seen(at: Vector, unseen: tuple[Stretch, ...]) -> NDArray[np.bool_]:
    """Which wavelengths lie in none of the stretches; their ends are points of the spectrum."""
    is_in = np.zeros(at.shape, dtype=np.bool_)
    for stretch in unseen:
        is_in |= (at > stretch.lower_nm) & (at < stretch.upper_nm)
    return ~is_in
