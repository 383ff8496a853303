"""What the readings of one piece at one channel come to: mean, scatter, and how sure they are.

Decimal arithmetic throughout, so that a stored judgement can be recomputed digit for digit. Pure.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal, localcontext
from typing import NamedTuple

from acquire.calibration.coverage import t95

PRECISION = 28
_ZERO = Decimal(0)


class Mean(NamedTuple):
    """Mean and standard deviation of `n` readings, unrounded; zeros without a reading."""

    n: int
    mean: Decimal
    spread: Decimal
    u_scatter_squared: Decimal
    """s^2 / n: the type A variance of the mean (JCGM 100:2008, 4.2.3)."""


class Term(NamedTuple):
    """A part of a combined variance; `degrees` is None for infinitely many degrees of freedom."""

    variance: Decimal
    degrees: int | None = None


def mean_of(values: Sequence[Decimal]) -> Mean:
    """The mean of readings. A single one has no scatter."""
    if not values:
        return Mean(0, _ZERO, _ZERO, _ZERO)
    with localcontext(prec=PRECISION):
        count = len(values)
        mean = sum(values, _ZERO) / count
        variance = _ZERO
        if count > 1:
            variance = sum(((v - mean) ** 2 for v in values), _ZERO) / (count - 1)
        return Mean(count, mean, variance.sqrt(), variance / count)


def expanded(terms: Iterable[Term]) -> Decimal:
    """U at 95 % of what these parts add up to, by effective degrees of freedom (GUM, G.2b)."""
    parts = list(terms)
    with localcontext(prec=PRECISION):
        u_squared = sum((part.variance for part in parts), _ZERO)
        share = sum(
            (p.variance**2 / p.degrees for p in parts if p.degrees and p.variance > 0), _ZERO
        )
        factor = t95(u_squared**2 / share if share > 0 else None)
        return factor * u_squared.sqrt()


def read_terms(mean: Mean, resolution: Decimal, weight_squared: Decimal = Decimal(1)) -> list[Term]:
    """How well a piece was read: scatter of the mean, and the step of the display, q^2 / 12."""
    return [
        Term(weight_squared * mean.u_scatter_squared, mean.n - 1),
        Term(weight_squared * resolution**2 / 12),
    ]
