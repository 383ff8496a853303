"""One life, as it was seen: the last count that passed and the first that failed.

A life T, in washes, lies in (low, high]: it passed at `low` and had failed by `high`. Where washing
stopped first, it is "at least `low`". Lives are compared as intervals: one outlived the other only
where every life inside its interval is longer. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


@dataclass(frozen=True, slots=True)
class Life:
    """The last count that passed (`low`) and the first that failed (`high`; inf if none did).

    Raises ValueError where they contradict each other, or are no counts.
    """

    low: float
    high: float = math.inf

    def __post_init__(self) -> None:
        if not (math.isfinite(self.low) and self.low >= 0):
            raise ValueError(f"the last count that passed is 0 or more, got {self.low}")
        if not self.high > self.low:
            raise ValueError(
                f"contradictory life: passed at {self.low:g} washes and failed by {self.high:g}; "
                "the first failure comes after the last pass"
            )

    @property
    def is_censored(self) -> bool:
        """Whether washing stopped before it failed."""
        return math.isinf(self.high)

    @property
    def is_exact(self) -> bool:
        """Whether the very wash is known that ended it, because every wash was looked at."""
        return self.high - self.low <= 1

    @property
    def words(self) -> str:
        if self.is_censored:
            return f"at least {_washes(self.low)}"
        if self.is_exact:
            return f"{_washes(self.low)}, failed at the next"
        if self.low == 0:
            return f"fewer than {_washes(self.high)}"
        return f"{self.low:g} to {_washes(self.high)}"


@dataclass(frozen=True, slots=True)
class Observed:
    """A life out of checkpoints; `life` is None with `lacking` saying why.

    `passed_again` are the counts at which the specimen passed after it had failed. The life ends at
    the first failure all the same; such counts are shown, since one of the looks may be wrong.
    """

    life: Life | None
    passed_again: tuple[float, ...] = ()
    lacking: str = ""

    @property
    def remark(self) -> str:
        """A sentence where a later look contradicts the first failure, else empty."""
        if not self.passed_again or self.life is None:
            return ""
        counts = " and ".join(f"{c:g}" for c in self.passed_again)
        return (
            f"Failed at {self.life.high:g} washes and passed again at {counts}: the first failure "
            "counts; look at both."
        )


def life_of(checkpoints: Iterable[tuple[float, bool]]) -> Observed:
    """The life from pairs of wash count and whether the specimen passed, in any order.

    A first look that failed leaves the life open below: it may have ended at any wash before.
    Raises ValueError for a count below zero or not finite, or one that both passed and failed.
    """
    seen: dict[float, bool] = {}
    for count, passed in checkpoints:
        if not (math.isfinite(count) and count >= 0):
            raise ValueError(f"a wash count of 0 or more is wanted, got {count}")
        if seen.setdefault(count, passed) != passed:
            raise ValueError(f"contradictory: it passed and failed at {count:g} washes")
    if not seen:
        return Observed(None, lacking="nobody looked at it")
    ordered = sorted(seen.items())
    failed = next((count for count, passed in ordered if not passed), None)
    if failed == 0:
        return Observed(None, lacking="it failed the criterion before the first wash")
    if failed is None:
        return Observed(Life(ordered[-1][0]))
    low = max((count for count, _ in ordered if count < failed), default=0.0)
    again = tuple(count for count, passed in ordered if passed and count > failed)
    return Observed(Life(low, failed), again)


class Relation(StrEnum):
    """What two intervals say of two specimens, the first against the second."""

    OUTLIVED = "outlived"
    OUTLIVED_BY = "outlived by"
    NOT_SHOWN = "not shown"


def relation(first: Life, second: Life) -> Relation:
    """Whether one specimen certainly outlived the other; overlapping intervals show nothing."""
    if first.low >= second.high:
        return Relation.OUTLIVED
    return Relation.OUTLIVED_BY if second.low >= first.high else Relation.NOT_SHOWN


def relation_words(names: tuple[str, str], first: Life, second: Life) -> str:
    """The relation of two specimens in a sentence; it says nothing of other specimens."""
    found = relation(first, second)
    one, other = names
    if found is Relation.OUTLIVED_BY:
        one, other, first, second = other, one, second, first
    if found is not Relation.NOT_SHOWN:
        gap = first.low - second.high
        by = f" by more than {_washes(gap)}" if gap > 0 else ""
        return f"{one} outlived {other}{by}: {first.words} against {second.words}."
    if first.is_censored and second.is_censored:
        return (
            f"{one} and {other}: not shown which lives longer; neither failed, {first.words} and "
            f"{second.words}."
        )
    return (
        f"{one} and {other}: not shown which lives longer; {first.words} and {second.words} "
        "overlap."
    )


def _washes(count: float) -> str:
    return f"{count:g} wash" if count == 1 else f"{count:g} washes"
