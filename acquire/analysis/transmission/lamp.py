"""Band lamps: a lamp of finite width is measured as a band, not at its one wavelength.

A meter with a light-emitting diode of 365 nm sees the film weighted by the lamp's spectrum times
the detector's response. On a steep edge that differs from the transmittance at 365 nm by a factor.
Pure; any thread.
"""

from __future__ import annotations

import math

import numpy as np

from acquire.analysis.transmission.definition import Band, Definition, Rule, Vector, Weights

REACH = 4.0
"""A bell-shaped lamp is taken to this many full widths at half maximum on either side, where
less than 1e-19 of the height is left."""
_STEP_NM = 0.5
_STEPS_A_WIDTH = 20


def bell_lamp(centre_nm: float, fwhm_nm: float) -> Definition:
    """The band of a lamp with a Gaussian spectrum of full width `fwhm_nm` at half maximum.

    Tabulated every 0.5 nm, of a narrow lamp at a twentieth of its width. Raises
    ValueError where the width is not above zero, or the lamp would reach below 1 nm.
    """
    if not (fwhm_nm > 0 and math.isfinite(centre_nm) and centre_nm - REACH * fwhm_nm >= 1):
        raise ValueError(
            f"a lamp in nm with a width above zero is wanted, got {centre_nm} and {fwhm_nm}"
        )
    step_nm = min(_STEP_NM, fwhm_nm / _STEPS_A_WIDTH)
    count = math.ceil(REACH * fwhm_nm / step_nm)
    sides: Vector = step_nm * np.arange(-count, count + 1, dtype=np.float64)
    height: Vector = np.exp(-4 * math.log(2) * (sides / fwhm_nm) ** 2)
    return lamp(
        f"lamp {centre_nm:g} nm, Gaussian, {fwhm_nm:g} nm wide",
        centre_nm + sides,
        height,
        "bell-shaped by the data sheet's centre and full width at half maximum",
    )


def lamp(name: str, wavelength_nm: Vector, emission: Vector, source: str) -> Definition:
    """The band of a lamp from its spectrum (n,), in any unit, times the detector's response.

    Raises ValueError for a spectrum that does not rise in wavelength or has no light.
    """
    x = np.array(wavelength_nm, dtype=np.float64)
    weights = Weights(name, Rule.DENSITY, x, np.array(emission, dtype=np.float64), source)
    return Definition(Band(float(x[0]), float(x[-1])), weights)
