"""What the readings of a counter come to in strokes, and what is said where they do not fit. Pure.

A stroke is counted once: a line a stroke counts one, a running count what it went on by. What
nobody watched counts for nothing by itself: strokes while the counter was away, a count that leaps,
starts again or runs backwards. It is said in plain words, and a person may add by a correction.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import NamedTuple

MOST_AT_ONCE = 10
"""Strokes between two looks at a running count that are taken for strokes: a look comes every
second or sooner, and nobody strokes faster (common practice, no source). More is a leap."""


class Stroked(NamedTuple):
    """Strokes to be counted; `trouble` is what does not fit, in words."""

    strokes: int
    trouble: str = ""


@dataclass(slots=True)
class StrokeCount:
    """A counter as it stands: its running count, and whether it was away since then.

    `total` is None as long as it has told none. `press` is the number that it gave its last stroke.
    `is_recalled` is whether what the store has of it was looked up.
    """

    total: int | None = None
    press: int | None = None
    was_away: bool = False
    is_recalled: bool = False

    def recall(self, press: int | None, total: int | None) -> None:
        """What was stored of it last; nobody has listened since then."""
        self.press, self.total, self.is_recalled = press, total, True
        self.was_away = self.was_away or press is not None or total is not None

    def left(self) -> None:
        """It was unplugged or switched off."""
        self.was_away = True

    def told_total(self, total: int) -> Stroked:
        """It told its running count."""
        before, was_away = self.total, self.was_away
        self.total, self.was_away = total, False
        if before is None or total == before:
            return Stroked(0)
        if total < before:
            return Stroked(0, f"its count went back from {before} to {total}: it was set back, "
                           "switched off, or is another one; counted on from there")  # fmt: skip
        by = total - before
        if was_away:
            return Stroked(0, f"its count went on by {by} while it was away, and nobody saw what "
                           "was stroked; none is counted")  # fmt: skip
        if by > MOST_AT_ONCE:
            return Stroked(0, f"its count leaps from {before} to {total}, more strokes than can be "
                           "made between two looks; none is counted")  # fmt: skip
        return Stroked(by)

    def told_stroke(self, press: int | None, flags: Collection[str]) -> Stroked:
        """It told of one stroke, with its number or without."""
        before, was_away = self.press, self.was_away
        if "repeat" in flags:
            return Stroked(0, "a stroke was sent twice; it is counted once")
        if "echo" in flags:
            return Stroked(0, "an old stroke was sent again; it is not counted")
        self.press, self.was_away = press, False
        if press is None and was_away:
            return Stroked(1, "it was away; strokes made meanwhile are not counted, this one is")
        if press is None or before is None or press == before + 1:
            return Stroked(1)
        if press <= before:
            if before - press > MOST_AT_ONCE or was_away:
                # A full counter begins anew, and so does one that was switched off.
                return Stroked(1, f"its number went from {before} to {press}: it began anew; this "
                               "stroke is counted, any between are not")  # fmt: skip
            return Stroked(0, f"its number went back from {before} to {press}; this stroke is not "
                           "counted")  # fmt: skip
        words = _in_between(press - before - 1)
        return Stroked(1, f"its number went from {before} to {press}: {words} not")


def _in_between(missed: int) -> str:
    some, those = ("1 stroke", "that is") if missed == 1 else (f"{missed} strokes", "those are")
    return f"{some} in between never came; this one is counted, {those}"
