"""Whether a driver's spectrum is one: values, and as many wavelengths that rise. Pure."""

from __future__ import annotations

from itertools import pairwise
from math import isfinite

from acquire.model import OUT_OF_RANGE, EvenGrid, Spectrum, SpectrumType

WIDTHS = {SpectrumType.BINARY32: 4, SpectrumType.BINARY64: 8}
MOST_POINTS = 16_384
"""Four times as many as the largest head that is reckoned with."""
LONGEST_NM = 1e6


def misfit_spectrum(spectrum: Spectrum) -> str:
    """Why its values and wavelengths are none; empty if they fit."""
    values, kind = spectrum.values, spectrum.type
    if type(kind) is not SpectrumType:
        return "type that is no SpectrumType"
    if type(values) is not bytes or len(values) % WIDTHS[kind]:
        return f"values that are no bytes of {kind}"
    points = len(values) // WIDTHS[kind]
    if not 1 <= points <= MOST_POINTS:
        return f"{points} points, where 1 to {MOST_POINTS} belong"
    if not spectrum.flags.isdisjoint(OUT_OF_RANGE):
        return "a range flag, which is for single values"
    return _misfit_wavelengths(spectrum.wavelengths, points)


def _misfit_wavelengths(grid: object, points: int) -> str:
    if type(grid) is EvenGrid:
        start, step = grid.start_nm, grid.step_nm
        if type(start) is not float or type(step) is not float:
            return "an even grid of other than floats"
        if not (start > 0 and step > 0 and start + step * (points - 1) <= LONGEST_NM):
            return f"an even grid from {start!r} nm in steps of {step!r} nm"
        return ""
    if type(grid) is not tuple or not all(type(nm) is float and isfinite(nm) for nm in grid):
        return "wavelengths that are no EvenGrid and no tuple of finite floats"
    if len(grid) != points:
        return f"{len(grid)} wavelengths of {points} points"
    if not (grid[0] > 0 and grid[-1] <= LONGEST_NM and all(a < b for a, b in pairwise(grid))):
        return "wavelengths that do not rise"
    return ""
