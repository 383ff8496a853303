"""When half of a gain is gone, by what zones kept at the counts, whatever law they wear by.

A fitted law says when half is gone as sharply as it bends, and two or three zones do not tell one
law from another: of courses that end at a plateau, taken for exponential to the bare surface, most
intervals missed the half. So the limits take no law for granted, only that what is kept falls ever
more slowly or evenly (it is convex), as it does by every law of wear without a sudden end. Then it
lies below the straight line between two counts, and above the same line beyond them. Half is gone
by any count at which the line between its neighbours lies below one half beyond its reach, and not
yet at any at which the line of the two before, carried on, lies above it. Each is one weighted sum
of stages, judged as every other (`acquire.analysis.durability.course`); they are asked one after
the other from either end, so that none costs another its level (W. Maurer, L. A. Hothorn and W.
Lehmacher, Biometrie in der chemisch-pharmazeutischen Industrie 6 (1995) 3, from memory).

A course may stand and then fall at once, too. So between two counts nothing is known where the fall
had not surely begun at the first of them, or where the means themselves bend the other way there,
or surely before: there the counts stand for the limits.

What is said without any law at all are the counts themselves (`Looked`): more than half was surely
left at one, and less at another. A product that outlives the test has at least that life, and how
much longer nobody has seen. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from acquire.analysis.durability.course import Course, Distance, Washed, Washing
from acquire.analysis.laws.root import crossing

_PRECISE = 1e-3


@dataclass(frozen=True, slots=True)
class Looked:
    """What single counts say of half of the first gain, None where a side is open.

    Up to the count `left` more than half was surely left at each, from the count `gone` on less.
    """

    left: float | None
    gone: float | None

    @property
    def words(self) -> str:
        """The half-life by these counts, as a part of a sentence."""
        if self.left is None and self.gone is None:
            return "what was kept rules none out"
        if self.left is None:
            return (
                f"the half-life is at most {self.gone:g} washes, from which count on less than "
                f"half of the gain was surely left"
            )
        if self.gone is None:
            return (
                f"the half-life is at least {self.left:g} washes, the last count at which more "
                f"than half of the gain was surely left"
            )
        return (
            f"the half-life is between {self.left:g} washes, where more than half of the gain was "
            f"surely left, and {self.gone:g} washes, where less was"
        )


@dataclass(frozen=True, slots=True)
class Halving:
    """The counts of washes between which half of the first gain goes, None where a side is open."""

    low: float | None
    high: float | None


def looked_of(course: Course, washing: Washing, read: Sequence[Washed], alpha: float) -> Looked:
    """What the counts say one by one at the two-sided level `alpha`, the first at 0 washes.

    That of the shares kept, whose intervals then say the same. Of the counts of a side, asked in
    their order, the first that may be false is the only one: each side errs in half of `alpha`.
    """
    looks = _Looks(course, washing, tuple(read))
    before, gone = looks.last_left(alpha), looks.first_gone(alpha)
    return Looked(
        float(read[before].washes) if before else None,
        None if gone is None else float(read[gone].washes),
    )


def halving_of(course: Course, washing: Washing, read: Sequence[Washed], alpha: float) -> Halving:
    """Limits at the two-sided level `alpha`, by three looks or more, the first at 0 washes."""
    looks = _Looks(course, washing, tuple(read))
    # Of all that may be false the line carried on, which scatters most, has a half, and looks that
    # half was left, and lines that it was gone, a quarter each.
    return Halving(looks.low(alpha / 2, alpha), looks.high(alpha / 2))


@dataclass(frozen=True, slots=True)
class _Looks:
    course: Course
    washing: Washing
    read: tuple[Washed, ...]

    def last_left(self, alpha: float) -> int:
        """The last look up to which more than half was surely left at each; the start has all."""
        later = range(1, len(self.read))
        after = next((k for k in later if not self._beside(k, alpha).is_above), len(self.read))
        return after - 1

    def first_gone(self, alpha: float) -> int | None:
        """The look from which on less than half was surely left at each."""
        last = len(self.read) - 1
        before = next(k for k in range(last, -1, -1) if not self._is_below(k, alpha))
        return None if before == last else before + 1

    def low(self, alpha: float, of_line: float) -> float | None:
        before = self.last_left(alpha)
        after = before + 1
        if after == len(self.read):
            return self._count(before)
        # Before the first count of washes the line of the two behind it, carried back.
        one, other = (1, 2) if before == 0 else (before - 1, before)

        def below(count: float) -> float:
            found = self._line(one, other, count, of_line)
            return _size(found.reach) - _size(found.estimate)

        if before > 0 and (not self._has_begun(before, alpha) or self._bends_down(before, alpha)):
            return self._count(before)
        if before == 0 and (below(0.0) >= 0 or self._bends_down(1, alpha)):
            return None
        return self._edge(below, before, after)

    def high(self, alpha: float) -> float | None:
        after = self.first_gone(alpha)
        if after is None:
            return None
        before = after - 1
        if not self._has_begun(before, alpha) or self._bends_down(before, alpha):
            return self._count(after)

        def above(count: float) -> float:
            found = self._line(before, after, count, alpha)
            return _size(found.estimate) + _size(found.reach)

        return self._edge(above, before, after)

    def _edge(self, over: Callable[[float], float], before: int, after: int) -> float:
        one, other = self._count(before), self._count(after)
        if (over(one) > 0) == (over(other) > 0):
            return other
        return crossing(over, one, other, rel=_PRECISE)

    def _count(self, k: int) -> float:
        return float(self.read[k].washes)

    def _is_below(self, k: int, alpha: float) -> bool:
        return k > 0 and self._beside(k, alpha).is_below

    def _beside(self, k: int, alpha: float) -> Distance:
        """What is left at a look, less half of the first gain."""
        return self._kept({k: 1.0}, 0.5, alpha)

    def _line(self, one: int, other: int, count: float, alpha: float) -> Distance:
        """What the line through two looks has at a count, less half of the first gain."""
        part = (count - self._count(one)) / (self._count(other) - self._count(one))
        return self._kept({one: 1 - part, other: part}, 0.5, alpha)

    def _has_begun(self, k: int, alpha: float) -> bool:
        """Whether less than the whole gain was surely left at a look."""
        return k > 0 and self._kept({k: 1.0}, 1.0, alpha).is_below

    def _bends_down(self, k: int, alpha: float) -> bool:
        """Whether the means bend down at a look, or surely do at one before it."""
        if self.course.contrast(self._bend(k)).estimate > 0:
            return True
        return any(self.course.distance(self._bend(j), alpha).is_above for j in range(1, k))

    def _bend(self, k: int) -> dict[str, float]:
        """What the mean at a look has above the line between its neighbours."""
        one, at, other = (self._count(j) for j in (k - 1, k, k + 1))
        part = (at - one) / (other - one)
        return self._weights({k: 1.0, k - 1: part - 1, k + 1: -part}, 0.0)

    def _kept(self, parts: dict[int, float], share: float, alpha: float) -> Distance:
        return self.course.distance(self._weights(parts, share), alpha)

    def _weights(self, parts: dict[int, float], share: float) -> dict[str, float]:
        """Of stages: the sum of gains by `parts`, which add up to one or nothing, less a share."""
        found = {self.washing.bare: 0.0, self.washing.start: -share}
        for k, part in parts.items():
            stage = self.read[k].stage
            found[stage] = found.get(stage, 0.0) + part
        found[self.washing.bare] = -sum(found.values())
        return found


def _size(figure: float | None) -> float:
    if figure is None:
        raise ArithmeticError("a sum of stages that were all read has a figure")
    return figure
