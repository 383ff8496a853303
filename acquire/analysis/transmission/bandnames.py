"""Band and weights of a channel of transmittance, as they stand beside every figure of it.

The limits come from the channel, their word of the trade from
`acquire.analysis.transmission.definition`. Of a band meter the weights are its own: its lamp,
filter and detector make them, and nobody can tell them from the readings. Pure; any thread.
"""

from __future__ import annotations

from acquire.analysis.transmission.definition import BANDS, Band

METERS_OWN = "as the meter weights it"


def band_name(channel: str, weights: str = METERS_OWN) -> str:
    """``UVA 315-400 nm, as the meter weights it``; a lamp's wavelength as ``at 940 nm``.

    `channel` is of the form of `acquire.model.channel`; one of another form is named as it is.
    """
    low, _, high = channel.partition("-")
    if not (low.isdecimal() and (high.isdecimal() or not high)):
        return f"{channel}, {weights}" if channel else weights
    if not high:
        return f"at {low} nm, {weights}"
    limits = (float(low), float(high))
    known = next((b for b in BANDS if (b.lower_nm, b.upper_nm) == limits), Band(*limits))
    return f"{known.name}, {weights}"
