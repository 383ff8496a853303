"""What a few specimens without a failure, or with few, show of all specimens.

Exact limits after C. J. Clopper and E. S. Pearson, Biometrika 26 (1934) 404: no failure in n leaves
every share of failures up to 1 - 0.05^(1/n) possible. The rule of three, 3/n, is given beside it:
it serves from about 30 on (J. A. Hanley and A. Lippman-Hand, J. Amer. Med. Assoc. 249 (1983) 1743;
both from memory). Pure; any thread.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from acquire.analysis.laws.special import betaincinv


class Failures(NamedTuple):
    """Limits of the share that fails, parts of 1, from `failures` of `n` specimens.

    `upper` is one-sided; `two_sided` has lower and upper. `rule_of_three` is None with failures,
    and 1 at most: it is a share.
    """

    n: int
    failures: int
    rule_of_three: float | None
    upper: float
    two_sided: tuple[float, float]

    @property
    def words(self) -> str:
        seen = "No failure" if self.failures == 0 else f"{self.failures} failures"
        return (
            f"{seen} in {self.n} {'specimen' if self.n == 1 else 'specimens'}: up to "
            f"{100 * self.upper:.0f} % of such specimens may fail all the same (95 %, one-sided)."
        )


def failures_seen(n: int, failures: int = 0, confidence: float = 0.95) -> Failures:
    """The limits from `failures` of `n` specimens; ValueError for numbers that cannot be."""
    if n < 1 or not 0 <= failures <= n:
        raise ValueError(f"1 specimen or more and 0 to n failures, got {failures} of {n}")
    if not 0 < confidence < 1:
        raise ValueError(f"a confidence between 0 and 1 is wanted, got {confidence}")
    each = (1 - confidence) / 2
    return Failures(
        n,
        failures,
        min(1.0, 3 / n) if failures == 0 else None,
        _upper(n, failures, 1 - confidence),
        (1 - _upper(n, n - failures, each), _upper(n, failures, each)),
    )


def specimens_needed(reliability: float, confidence: float = 0.95) -> int:
    """How many specimens without a failure show that at least this share survives.

    The least n with reliability^n <= 1 - confidence (success run). ValueError outside 0 to 1.
    """
    if not (0 < reliability < 1 and 0 < confidence < 1):
        raise ValueError(f"shares between 0 and 1 are wanted, got {reliability} and {confidence}")
    exact = math.log1p(-confidence) / math.log(reliability)
    # A whole number that rounding put just above itself is that number.
    return max(1, math.ceil(exact - 1e-9))


def _upper(n: int, failures: int, alpha: float) -> float:
    if failures == n:
        return 1.0
    if failures == 0:
        return -math.expm1(math.log(alpha) / n)
    return float(betaincinv(failures + 1, n - failures, 1 - alpha))
