"""The readings of a cell under one pair of checks, and what errors of the meter do to their mean.

Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from operator import mul

from acquire.analysis.checks.bracket import Bracket
from acquire.analysis.checks.departure import Read
from acquire.analysis.checks.meterscale import Rise
from acquire.analysis.samples.sample import Sample
from acquire.model import DriftCorrection

Effect = tuple[float, float]
"""What an error of one unit does to the mean, and what a steady drift of it does."""
NOTHING: Effect = (0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Holding:
    """The readings of a cell under one bracket, or of one stretch under no check.

    `bracket` is None under no check, `stretch` empty under one.

    `part` is their share of the cell's readings. An error of the meter that is one unit at its
    reference piece does `weight` to the mean, and a steady drift of one unit between the checks
    does `lever`. `read` has where each reading lies between the checks, and what one unit does to
    it; `left` what one unit of an error does that a correction left in it, which of a correction by
    gain is another thing. `rise` is how the error runs along the scale, None where the checks do
    not tell: `gain` is then what the rise does to the mean, in units of its span, and `kinks` what
    each kink does; `courses` what half of that does by which the scale may run apart there. `shown`
    is what the meter showed, counted from `base`, and `middle` what it showed on average.
    `drifting` is as `read`, of a drift of one unit of `Rise.course`, and `drifted` what it does to
    the mean; None where a drift is the same for all readings.
    """

    bracket: Bracket | None
    readings: int
    part: float
    weight: float
    lever: float
    read: Read
    stretch: str = ""
    rise: Rise | None = None
    left: tuple[float, ...] = ()
    shown: tuple[float, ...] = ()
    base: float = 0.0
    middle: float = 0.0
    gain: Effect = NOTHING
    kinks: tuple[Effect, ...] = ()
    courses: tuple[float, ...] = ()
    drifting: Read | None = None
    drifted: Effect = NOTHING

    def moved(self, by: float) -> Holding:
        """As it would be if all of it had been shown higher by so much."""
        if self.rise is None:
            return self
        return _along(replace(self, shown=tuple([v + by for v in self.shown])), self.rise)

    def over(self, read: float) -> Holding:
        """Of the logarithm of the mean: each error over what was `read`."""
        return self._pulled(1 / read, 1 / read, self.shown)

    def let_through(self, times: float) -> Holding:
        """In logarithms, as it would be if so many times as much had been shown."""
        # An error of what a gain is taken off by is in proportion to the reading.
        is_gain = self.bracket is not None and self.bracket.correction is DriftCorrection.GAIN
        by = 1.0 if is_gain else 1 / times
        return self._pulled(by, 1 / times, tuple([v * times for v in self.shown]))

    def _pulled(self, by: float, left_by: float, shown: tuple[float, ...]) -> Holding:
        found = replace(
            self,
            weight=self.weight * by,
            lever=self.lever * by,
            read=self.read if by == 1 else self.read.times(by),
            left=tuple([one * left_by for one in self.left]),
            shown=shown,
        )
        return found if self.rise is None else _along(found, self.rise)


def holding_of(
    samples: Sequence[Sample], bracket: Bracket | None, stretch: str, n: int, middle: float
) -> Holding:
    """Of `samples`, part of the `n` of a cell, under one bracket or in one stretch under none.

    `middle` is what the meter showed on average over all cells, from which a drift that grows is
    counted where the closing check did not tell how the meter reads at zero.
    """
    moments = [sample.at_s for sample in samples]
    positions = (0.0,) * len(samples) if bracket is None else bracket.positions(moments)
    pulls = tuple([sample.pull for sample in samples])
    weight, lever = _effect(positions, pulls, n)
    found = Holding(
        bracket,
        len(samples),
        len(samples) / n,
        weight,
        lever,
        Read(positions, pulls),
        stretch,
    )
    rise = bracket.rise if bracket is not None else None
    if rise is None:
        return found
    shown = tuple([s.value if s.shown is None else s.shown for s in samples])
    left = _left(pulls, shown, positions, bracket)
    return _along(
        replace(found, rise=rise, shown=shown, base=rise.base, middle=middle, left=left), rise
    )


def _left(
    pulls: tuple[float, ...],
    shown: Sequence[float],
    positions: Sequence[float],
    bracket: Bracket | None,
) -> tuple[float, ...]:
    """A reading r of y = r c / x is pulled by y / x for each unit of x, and by c / x of its own.

    An offset d of it that was taken for a gain leaves d (c - r) / x, which is d (1 - y / c): of
    readings as they are corrected its rise is counted, and by 1 then.
    """
    if bracket is None or bracket.correction is not DriftCorrection.GAIN:
        return pulls
    certified = bracket.certified or 0.0
    opening = certified + (bracket.opening_deviation or 0.0)
    is_of_one = bracket.rise is not None and bracket.rise.is_of_one
    found = []
    for pull, y, p in zip(pulls, shown, positions, strict=True):
        x = opening + p * (bracket.drift or 0.0)
        # What else is in the pull (the weight of a sled) is in both.
        own = pull * certified / y if y else certified / x
        found.append(own * x / certified if is_of_one else own)
    return tuple(found)


def _along(held: Holding, rise: Rise) -> Holding:
    """With what the error does that is not the same all along the scale."""
    n = held.readings / held.part
    read = list(zip(held.left, held.shown, strict=True))

    def effect(pulls: Sequence[float]) -> Effect:
        return _effect(held.read.positions, pulls, n)

    gain = effect([p * (v - held.base) / rise.span for p, v in read])
    if rise.drift_base != rise.base:
        # The rise and its drift are counted from different places.
        gain = gain[0], effect([p * (v - held.middle) / rise.span for p, v in read])[1]
    kinks = tuple([effect([p * kink.at(v) for p, v in read]) for kink in rise.kinks])
    courses = tuple([effect([p * kink.apart(v) for p, v in read])[0] for kink in rise.kinks])
    held = replace(held, gain=gain, kinks=kinks, courses=courses)
    drift = (held.bracket.drift if held.bracket is not None else None) or 0.0
    course = rise.course(drift)
    if not course:
        return held
    middle = held.middle if rise.drift_base is None else rise.drift_base
    pulls = tuple(
        [
            (pull * drift + left * rise.drifted(v, middle)) / course
            for pull, (left, v) in zip(held.read.pulls, read, strict=True)
        ]
    )
    drifting = Read(held.read.positions, pulls)
    return replace(held, drifting=drifting, drifted=effect(pulls))


def _effect(positions: Sequence[float], pulls: Sequence[float], n: float) -> Effect:
    return math.fsum(pulls) / n, math.fsum(map(mul, positions, pulls)) / n
