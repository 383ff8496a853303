"""The wash life of one treatment: its specimens' lives, the share alive, and what few of them show.

No mean is given: of intervals and lives that are "at least" there is none without a law that nobody
knows. The limits of a share alive are exact at any number of specimens: those of which nothing is
known at a count are taken as gone for the lower limit and as alive for the upper one. Pure; any
thread.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from acquire.analysis.durability.demonstration import Failures, failures_seen
from acquire.analysis.durability.life import Life
from acquire.analysis.durability.productlimit import ProductLimit, product_limit_of
from acquire.analysis.durability.turnbull import IntervalEstimate, estimate_lives


@dataclass(frozen=True, slots=True)
class ShareAlive:
    """Of `n` specimens, how many are known to be `alive` beyond `count`, `gone`, or unknown.

    `low` to `high` holds the share alive of all such specimens, parts of 1, 95 % unless asked
    otherwise (Clopper and Pearson, widened for the unknown).
    """

    count: float
    n: int
    alive: int
    gone: int
    low: float
    high: float

    @property
    def unknown(self) -> int:
        return self.n - self.alive - self.gone


@dataclass(frozen=True, slots=True)
class WashLife:
    """The lives of one treatment in the order given, and the estimate of the share alive.

    `exact` is the product limit where every life is known to the wash or censored, else None.
    `none_failed` is what follows from no failure up to `survived` washes, the last count that all
    specimens are known to have passed.
    """

    lives: tuple[Life, ...]
    estimate: IntervalEstimate
    exact: ProductLimit | None
    survived: float
    none_failed: Failures

    @property
    def censored(self) -> int:
        return sum(x.is_censored for x in self.lives)

    @property
    def words(self) -> str:
        """The life in one sentence or two: that of one specimen, or the middle of several."""
        n = len(self.lives)
        if n == 1:
            return f"One specimen: {self.lives[0].words}."
        if self.censored == n:
            return (
                f"No failure in {n} specimens up to {self.survived:g} washes: at least that; up to "
                f"{100 * self.none_failed.upper:.0f} % of such specimens may fail by then all the "
                "same (95 %, one-sided)."
            )
        middle = self.estimate.median
        half = middle.words if middle is not None else f"{self.estimate.median_count:g} washes"
        left = f", {self.censored} of them had not failed" if self.censored else ""
        return f"The middle life of {n} specimens: {half}{left}."


def wash_life(lives: Sequence[Life]) -> WashLife:
    """All that the lives of one treatment say. Raises ValueError without any."""
    if not lives:
        raise ValueError("the lives of one specimen or more are wanted, got none")
    exact = all(x.is_censored or x.is_exact for x in lives)
    return WashLife(
        tuple(lives),
        estimate_lives(lives),
        product_limit_of(lives) if exact else None,
        min(x.low for x in lives),
        failures_seen(len(lives)),
    )


def share_alive(lives: Sequence[Life], count: float, confidence: float = 0.95) -> ShareAlive:
    """The share that lives beyond `count` washes. Raises ValueError without lives."""
    if not lives:
        raise ValueError("the lives of one specimen or more are wanted, got none")
    n = len(lives)
    alive, gone = sum(x.low >= count for x in lives), sum(x.high <= count for x in lives)
    # Alive as failures are: the limits of a share are the same whichever is counted.
    low = failures_seen(n, alive, confidence).two_sided[0]
    high = failures_seen(n, n - gone, confidence).two_sided[1]
    return ShareAlive(count, n, alive, gone, low, high)
