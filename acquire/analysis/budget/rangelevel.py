"""The level at which a difference among many means is just reached, by the limit of its lines.

The rule is that of `acquire.analysis.budget.reach`, turned round. Of a difference of x combined
standard uncertainties, a line that makes the share s of the variance is just reached at the level
alpha where

    (1 - s) z^2 + s t^2 = x^2,

z and t being the limits at alpha of a known scatter and of the line; the level of the difference is
the largest of all lines. A level at a limit is one integral and a limit at a level a dozen, which
of a known scatter are cheap ones. So t is sought, and with its level goes z. How they stand to one
another changes little from level to level: t = x / sqrt(s + (1 - s) (z/t)^2) is found in three or
four turns. Where t and z cross, at levels of about 0.8, t is the smaller one, since a large
estimate of the scatter makes all means alike. Lines that are known alike lie all on one side of
that, so it is known which share decides among them. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from acquire.analysis.laws.student import two_sided_p
from acquire.analysis.laws.studentrange import LEAST_ALPHA, range_critical, range_p

_MOST_TURNS, _TURNED = 40, 1e-5
"""How many turns at most, and by which part of itself, or of what it lacks of 1, the level may
change in the last one. It is much nearer then: each turn takes the straight line through two."""
_NOTHING = 1e-12
_ONE = 1 - 1e-9
"""A level from here on is one: no digit of it is printed otherwise."""


class Known(NamedTuple):
    """A line that is estimated at `nu` degrees of freedom, and its share of the variance.

    `apart` is how many lines of one kind decide pairs of their own, 1 for a line of all of them.
    """

    share: float
    nu: float
    apart: int

    def level(self, t: float, means: int) -> float:
        """The level at which the limit of the line is `t`."""
        alone = self._alone(t)
        # Of one that is 1 as it is, no integral says more.
        return alone if alone > _ONE else max(alone, range_p(math.sqrt(2) * t, means, self.nu))

    def _alone(self, t: float) -> float:
        if self.apart == 1:
            return 0.0
        p = two_sided_p(t, self.nu)
        return 1.0 if p >= 1 else -math.expm1(self.apart * math.log1p(-p))


def level_of_range(x: float, means: int, lines: Iterable[Known]) -> float:
    """The level at which a difference of `x` combined standard uncertainties is just reached.

    `lines` are those that are not known exactly, of more than two `means`. 0 to 1; to four digits
    from 1e-4 on, below which `acquire.analysis.laws.studentrange` is not asked for a limit.
    """
    known = range_p(math.sqrt(2) * x, means, math.inf)
    kinds: dict[tuple[float, int], list[Known]] = {}
    for line in lines:
        kinds.setdefault((line.nu, line.apart), []).append(line)
    if not kinds:
        return known
    sought = [(alike[0].level(x, means), alike) for alike in kinds.values()]
    best = 0.0
    # What lies between two levels is no more than the larger one.
    for level, alike in sorted(sought, key=lambda one: one[0], reverse=True):
        if max(level, known) > best:
            best = max(best, _of_line(x, means, _deciding(alike, is_wider=level > known), level))
    return best


def _deciding(alike: Sequence[Known], *, is_wider: bool) -> Known:
    """Of lines that are known alike: by the largest share, or where that narrows by the least."""
    return (max if is_wider else min)(alike, key=lambda line: line.share)


def _of_line(x: float, means: int, line: Known, level: float) -> float:
    """The level of one line, which has `level` at `x` itself."""
    t, ratio, rest = x, 1.0, 1 - line.share
    before: tuple[float, float] | None = None
    for _ in range(_MOST_TURNS):
        if level > _ONE or rest < _NOTHING:
            break
        z = range_critical(means, math.inf, max(level, LEAST_ALPHA)) / math.sqrt(2)
        off = z / t - ratio
        step = off
        if before is not None and off != before[1]:
            # By the straight line through this turn and the one before, between their ratios.
            step = off * (ratio - before[0]) / (before[1] - off)
        before, ratio = (ratio, off), max(ratio + step, ratio / 2)
        t = x / math.sqrt(line.share + rest * ratio**2)
        earlier, level = level, line.level(t, means)
        if abs(level - earlier) <= _TURNED * min(level, 1 - level):
            break
    return level
