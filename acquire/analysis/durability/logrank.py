"""The log-rank test of two groups whose lives are exact or right-censored.

At each count with failures, those of the first group are held against what its part of the
specimens at risk would have; hypergeometric variance, chi-square of one degree of freedom (N.
Mantel, Cancer Chemother. Rep. 50 (1966) 163; R. Peto and J. Peto, J. R. Statist. Soc. A 135 (1972)
185; from memory). The law is that of many specimens: for few, and for intervals, see
`acquire.analysis.durability.outliving`. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from acquire.analysis.durability.productlimit import checked_records
from acquire.analysis.laws.special import chdtrc


@dataclass(frozen=True, slots=True)
class LogRank:
    """Observed and expected failures of both groups, the variance of observed less expected.

    `chi2` and `p` are None with `lacking` saying why, where nothing can be compared.
    """

    observed: tuple[float, float]
    expected: tuple[float, float]
    variance: float
    chi2: float | None
    p: float | None
    lacking: str = ""


def log_rank(
    first: tuple[Sequence[float], Sequence[bool | int]],
    second: tuple[Sequence[float], Sequence[bool | int]],
) -> LogRank:
    """Each group is counts, and whether the specimen failed there (as for `product_limit`).

    Raises ValueError for an empty group, lists of different length, or counts that are none.
    """
    one, other = checked_records(*first), checked_records(*second)
    both = one + other
    expected, variance = 0.0, 0.0
    for count in sorted({c for c, failed in both if failed}):
        n, n1 = sum(c >= count for c, _ in both), sum(c >= count for c, _ in one)
        d = sum(f and c == count for c, f in both)
        expected += d * n1 / n
        if n > 1:
            variance += d * (n1 / n) * (1 - n1 / n) * (n - d) / (n - 1)
    observed = float(sum(f for _, f in one)), float(sum(f for _, f in other))
    total = sum(observed)
    expectations = expected, total - expected
    if not variance > 0:
        why = (
            "no specimen failed: nothing can be compared yet"
            if total == 0
            else "at every failure only one group, or nobody else, was left to be compared"
        )
        return LogRank(observed, expectations, 0.0, None, None, why)
    chi2 = (observed[0] - expected) ** 2 / variance
    return LogRank(observed, expectations, variance, chi2, float(chdtrc(1, chi2)))
