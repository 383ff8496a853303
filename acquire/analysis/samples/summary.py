"""What a handful of readings of one place says: mean, scatter, number, the one farthest out.

Never NaN: what cannot be known (the scatter of one reading, the mean of none) is None, and
`remark` says why. Any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from acquire.analysis.figures import beyond
from acquire.analysis.laws.student import t_factor
from acquire.analysis.samples.outlier import Grubbs, apart, grubbs
from acquire.analysis.samples.repeatability import Repeatability

MEASURED = 1e30
"""Larger values are no measurement."""
LARGEST = 1e100
"""Of what is made of them, squares among them; up to here no square overflows."""

FLAGGED = 0.05
"""The chance that one of good readings of a place is flagged, by whatever tests there are."""


@dataclass(frozen=True, slots=True)
class Summary:
    """Readings of one place in the unit of the readings.

    `sd` is the standard deviation with n - 1. `deviation` is the signed largest deviation from
    the mean and `deviation_index` where it is among the values, counted from 0; both are None
    without values. `outlier` is Grubbs' test at 5 % two-sided, None where it cannot be made; where
    the scatter of a study is known both are made at half of that, so that together they flag no
    more of good readings, and where Grubbs' sees nothing and the study's does, it is the latter.
    `remark` is a sentence where something is special, else empty.
    """

    n: int
    mean: float | None
    sd: float | None
    deviation: float | None
    deviation_index: int | None
    outlier: Grubbs | None
    remark: str = ""

    @property
    def is_flagged(self) -> bool:
        """Whether a reading stands out. It stays in the mean until a person voids it."""
        return self.outlier is not None and self.outlier.is_outlier


def checked(value: float) -> float:
    """The value, or ValueError where it is not finite or nothing measured comes to so much."""
    if not math.isfinite(value) or abs(value) > LARGEST:
        raise ValueError(f"a finite value up to {LARGEST:g} is wanted, got {value}")
    # Of numpy's own floats comparisons give truths that cannot be subtracted.
    return float(value)


def measured(value: float) -> float:
    """The value, or ValueError where it is not finite or no measurement could be so large."""
    if not abs(value) <= MEASURED:
        raise ValueError(f"a finite value up to {MEASURED:g} is wanted, got {value}")
    return value


def summarise(
    values: Sequence[float], resolution: float = 0.0, known: Repeatability | None = None
) -> Summary:
    """Summarise readings; `resolution` is the step of the display in their unit.

    `known` is the scatter that a study found for such readings, for flags alone.

    The mean is the exactly rounded sum over n, and the deviations are taken from it (two passes),
    so that a large common offset costs no digits. Raises ValueError for values that are not
    finite.
    """
    n = len(values)
    if n == 0:
        return Summary(0, None, None, None, None, None, "No reading.")
    if not all([-LARGEST <= v <= LARGEST for v in values]):
        list(map(checked, values))
    mean = math.fsum(values) / n
    deviations = [v - mean for v in values]
    sizes = list(map(abs, deviations))
    index = sizes.index(max(sizes))
    if n == 1:
        return Summary(
            1, mean, None, 0.0, 0, None, "One reading only: its scatter cannot be known."
        )
    # Equal readings have no scatter, whatever the rounding of their mean says.
    if min(values) == max(values):
        step = f" of {resolution:g}" if resolution > 0 else ""
        return Summary(
            n, values[0], 0.0, 0.0, 0, None,
            f"All {n} readings are equal: the display step{step} hides how they scatter, or they "
            "agree by chance.",
        )  # fmt: skip
    # The sum of deviations is what rounding the mean left over (corrected two-pass variance).
    # hypot squares without losing small scatter to underflow.
    rest = math.fsum(deviations) / n
    sd = math.hypot(*[d - rest for d in deviations]) / math.sqrt(n - 1)
    alpha = FLAGGED if known is None else FLAGGED / 2
    test = grubbs(values, mean, sd, alpha=alpha, resolution=resolution)
    remark = ""
    if known is not None and not (test is not None and test.is_outlier):
        by_study = apart(values, mean, known, alpha=alpha, resolution=resolution)
        test = by_study if by_study is not None and by_study.is_outlier else test
        if n == 2:
            remark = _unlike(values, known, resolution)
    if test is not None and test.is_outlier:
        found, limit = beyond(test.statistic, test.critical)
        how = (
            f"by the repeatability from {test.by} ({found} times it from the mean"
            if test.by
            else f"(Grubbs G = {found}"
        )
        remark = (
            f"Reading {index + 1} of {n} stands out {how}, limit {limit}): flagged, not removed."
        )
    return Summary(n, mean, sd, deviations[index], index, test, remark)


def _unlike(values: Sequence[float], known: Repeatability, resolution: float) -> str:
    """What is said of two readings that differ by more than a study makes likely."""
    difference = abs(values[0] - values[1])
    limit = math.sqrt(2) * t_factor(known.nu) * known.sd
    if difference <= max(limit, 2 * resolution * (1 + 1e-9)):
        return ""
    return (
        f"The two readings differ by {difference:.3g}, and by the repeatability from "
        f"{known.source} more than {limit:.3g} comes up once in 20 times: take more readings "
        "(ISO 5725-6)."
    )
