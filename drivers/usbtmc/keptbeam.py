"""The dark and the open beam that a head of counts keeps, and percent of a band by them. Pure.

At each point T = (S - D)/(R - D): S what came through, D the dark, R the open beam, all in the
head's counts; a band is the plain mean of T over its points, as with a head that sends percent.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import Enum
from math import fsum, isfinite


class Kept(Enum):
    """Which array the head was asked for."""

    DARK = "dark"
    OPEN = "open beam"


class KeptBeam:
    """Both arrays as the head told them last; a kind that was asked anew is not known."""

    def __init__(self) -> None:
        self._arrays: dict[Kept, tuple[float, ...]] = {}

    def forget(self, kind: Kept) -> None:
        """It is being asked for again: what was known may hold no more."""
        self._arrays.pop(kind, None)

    def keep(self, kind: Kept, numbers: Sequence[float]) -> None:
        """One finite number of counts a point; an open beam over the range may be infinite."""
        self._arrays[kind] = tuple(map(float, numbers))

    @property
    def is_known(self) -> bool:
        """Whether both were told."""
        return len(self._arrays) == len(Kept)

    def why_unfit(self, points: int) -> str:
        """Why counts of so many points mean nothing; empty where they do."""
        for kind in Kept:
            known = self._arrays.get(kind)
            if known is None:
                return f"counts of a head whose {kind.value} is not known"
            if len(known) != points:
                return f"counts of {points} points, and a {kind.value} of {len(known)}"
        return ""

    def percent(self, counts: Sequence[float], first: int) -> float | str:
        """The mean over a band whose points begin at `first`, or why it has none."""
        behind = first + len(counts)
        dark, beam = (self._arrays[kind][first:behind] for kind in (Kept.DARK, Kept.OPEN))
        if not all(map(isfinite, (*dark, *beam))):
            return "the open beam that the head keeps is over its range there"
        unlit = sum(b <= d for d, b in zip(dark, beam, strict=True))
        if unlit:
            return f"no light at {unlit} of its {len(counts)} points: open beam not above the dark"
        parts = ((s - d) / (b - d) for s, d, b in zip(counts, dark, beam, strict=True))
        return 100 * fsum(parts) / len(counts)
