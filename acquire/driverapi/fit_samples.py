"""Whether a driver's samples are some: counts of a known step and rate, in bounds. Pure."""

from __future__ import annotations

from decimal import Decimal

from acquire.model import Quantity, Samples

COUNT_BYTES = 4
MOST_SAMPLES = 65_536
"""More than any device sends between two looks at its line."""
HIGHEST_RATE_HZ = Decimal(1_000_000)
_HIGHEST_PLACE = 2**62
_MOST_DIGITS = 20


def misfit_samples(samples: Samples) -> str:
    """Why these are no samples that a driver may give; empty if they are."""
    counts, first = samples.counts, samples.first
    if type(counts) is not bytes or len(counts) % COUNT_BYTES:
        return "counts that are no bytes of 32-bit integers"
    if not 1 <= len(counts) // COUNT_BYTES <= MOST_SAMPLES:
        return f"{len(counts) // COUNT_BYTES} samples, where 1 to {MOST_SAMPLES} belong"
    if type(samples.start) is not int or type(samples.end) is not int:
        return "start or end that is no int"
    if not 0 <= samples.start <= samples.end <= _HIGHEST_PLACE:
        return f"a stretch from {samples.start!r} to {samples.end!r}"[:120]
    if type(first) is not int or not 0 <= first <= _HIGHEST_PLACE:
        return "first that is no place in a stream"
    if type(samples.quantity) is not Quantity:
        return "quantity that is no Quantity"
    for name, value, most in (("step", samples.step, None), ("rate_hz", samples.rate_hz, 1)):
        if type(value) is not Decimal or not value.is_finite() or value <= 0:
            return f"{name} that is no positive Decimal"
        if (
            abs(value.adjusted()) > 12
            or len(value.as_tuple().digits) > _MOST_DIGITS
            or (most and value > HIGHEST_RATE_HZ)
        ):
            return f"{name} beyond all measure"
    return ""
