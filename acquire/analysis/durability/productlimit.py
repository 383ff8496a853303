"""The share still alive at each count where every life is known to the wash, or censored.

S(t) = product of (1 - d/n) over counts with failures, Greenwood's variance S^2 sum d/(n (n - d)); a
life censored at a count is at risk for the failures of that count (E. L. Kaplan and P. Meier, J.
Amer. Statist. Assoc. 53 (1958) 457). The median is the first count with S <= 1/2, never one between
counts. Limits by the log of -log S, which stay between 0 and 1. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from acquire.analysis.durability.life import Life
from acquire.analysis.laws.student import t_factor

_HALF = 0.5 + 1e-9
"""A product of fractions that is one half may come out just above it."""


@dataclass(frozen=True, slots=True)
class ProductLimit:
    """At each of `counts` with failures: how many were `at_risk`, failed, and the share `alive`.

    `se` is Greenwood's standard error, None where nobody is left. `median` is None where the share
    alive did not fall to a half ("not reached").
    """

    n: int
    censored: int
    counts: tuple[float, ...]
    at_risk: tuple[int, ...]
    failed: tuple[int, ...]
    alive: tuple[float, ...]
    se: tuple[float | None, ...]

    @property
    def median(self) -> float | None:
        return next((c for c, s in zip(self.counts, self.alive, strict=True) if s <= _HALF), None)

    def beyond(self, count: float) -> float:
        """The estimated P(T > count), parts of 1."""
        share = 1.0
        for c, s in zip(self.counts, self.alive, strict=True):
            if c <= count:
                share = s
        return share

    def limits(self, confidence: float = 0.95) -> tuple[tuple[float, float] | None, ...]:
        """An interval for each share alive, by itself; None where nobody is left, or all are."""
        z = t_factor(math.inf, confidence)
        return tuple(_limits(s, e, z) for s, e in zip(self.alive, self.se, strict=True))


def product_limit(counts: Sequence[float], failed: Sequence[bool | int]) -> ProductLimit:
    """`counts` at which each specimen failed, or was last seen alive where `failed` is not set.

    Raises ValueError without specimens, for lists of different length, or counts that are none.
    """
    records = checked_records(counts, failed)
    events = sorted({c for c, f in records if f})
    at_risk = [sum(c >= e for c, _ in records) for e in events]
    deaths = [sum(f and c == e for c, f in records) for e in events]
    alive: list[float] = []
    se: list[float | None] = []
    share, summed = 1.0, 0.0
    for n, d in zip(at_risk, deaths, strict=True):
        share *= (n - d) / n
        alive.append(share)
        if n > d:
            summed += d / (n * (n - d))
        se.append(share * math.sqrt(summed) if n > d else None)
    return ProductLimit(
        len(records), sum(not f for _, f in records), tuple(events), tuple(at_risk), tuple(deaths),
        tuple(alive), tuple(se),
    )  # fmt: skip


def product_limit_of(lives: Sequence[Life]) -> ProductLimit:
    """The same from lives; each failed at a known wash or is "at least".

    Raises ValueError where a life is an interval: any count inside it would be invented.
    """
    wide = [x for x in lives if not x.is_censored and not x.is_exact]
    if wide:
        raise ValueError(
            f"{len(wide)} of {len(lives)} lives are known as intervals ({wide[0].words}): the "
            "product limit wants the wash of the failure; take the interval estimate"
        )
    return product_limit(
        [x.low if x.is_censored else x.high for x in lives], [not x.is_censored for x in lives]
    )


def checked_records(
    counts: Sequence[float], failed: Sequence[bool | int]
) -> list[tuple[float, bool]]:
    """Pairs of count and whether it failed there; ValueError as above."""
    if len(counts) != len(failed) or not counts:
        raise ValueError(f"a count and a verdict each: got {len(counts)} and {len(failed)}")
    strange = [c for c in counts if not (math.isfinite(c) and c >= 0)]
    if strange:
        raise ValueError(f"a wash count of 0 or more is wanted, got {strange[0]}")
    return [(float(c), bool(f)) for c, f in zip(counts, failed, strict=True)]


def _limits(share: float, se: float | None, z: float) -> tuple[float, float] | None:
    if se is None or not 0 < share < 1:
        return None
    half = z * se / (share * abs(math.log(share)))
    return share ** math.exp(half), share ** math.exp(-half)
