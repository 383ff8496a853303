"""Stray light: what reaches the detector without the wavelength, or the way, that is meant.

A part s of the open beam that no sample stops adds to sample and open beam alike, so that

    T_read = (T + s)/(1 + s),   T = T_read (1 + s) - s

and absorbance always reads too low (IUPAC Gold Book S06045). s is measured with a sample that
stops all light of the band: its reading is s/(1 + s). Pure; any thread.
"""

from __future__ import annotations

import math

from acquire.analysis.transmission.beam import Number


def with_stray(transmittance: Number, stray: float) -> Number:
    """What a head with stray part `stray` reads of a transmittance, both parts of 1."""
    return (transmittance + _checked(stray)) / (1 + stray)


def without_stray(read: Number, stray: Number | float) -> Number:
    """The transmittance behind a reading. May come out below 0 in the noise; nothing is clipped.

    Raises ValueError for a stray part that is not from 0 to below 1.
    """
    _checked(float(getattr(stray, "nominal_value", stray)))
    corrected: Number = read * (1 + stray) - stray
    return corrected


def stray_part(blocked: float) -> float:
    """The stray part s from the reading of a sample that stops everything, s/(1 + s)."""
    if not 0 <= blocked < 0.5:
        raise ValueError(
            f"a reading of a blocked beam from 0 to below 0.5 is wanted, got {blocked}; is the "
            "blocking filter in, and the dark taken off?"
        )
    return blocked / (1 - blocked)


def largest_absorbance(stray: float) -> float | None:
    """The absorbance that a head reads of a sample without any light; None without stray light."""
    return -math.log10(with_stray(0.0, stray)) if _checked(stray) > 0 else None


def _checked(stray: float) -> float:
    if not 0 <= stray < 1:
        raise ValueError(f"a stray part from 0 to below 1 of the open beam is wanted, got {stray}")
    return stray
