"""A weighted sum of cell means, and how much of every reading and bracket is in it.

A mean, a change of a zone, a change less that of the control: each is one contrast, so that one
rule for scatter, display and checks serves them all, and what is common to both sides cancels by
arithmetic instead of by assertion. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from acquire.analysis.cells.cell import Cell
from acquire.analysis.checks.bracket import Bracket
from acquire.analysis.checks.departure import Departure, Weighed, departure_among
from acquire.analysis.checks.holding import NOTHING, Effect, Holding
from acquire.analysis.checks.meterscale import Rise

BALANCED = 1e-9
"""A sum of weights below this is zero but for rounding."""


class Share(NamedTuple):
    """What one bracket has in a contrast.

    `weight` is what an error of the meter does to the result that is one unit at its reference
    piece: the sum of the weights of the readings, zero where both sides were read under the same
    check, and then an offset of the meter cancels. In a ratio it is that divided by what was read,
    so an offset hardly ever cancels whole; an error in proportion does where `balance`, the sum of
    the weights in the ratio itself, is zero. `lever` is the sum of weight times
    position between the checks: what a steady drift of one unit does to the result, and
    `departure` what a drift of any other course may do besides, one that moves the meter by
    `course` in all. `readings` counts them. `stages`
    has several where one pair of checks lies around several. `bracket` is None for readings of one
    stage in one stretch under no check.

    `rise` is set where an error that grows with the reading is in it, as one of the meter's gain
    is: `gain` is then what it does to the result if it is larger by one unit at the reference piece
    than at its foot, and what a steady drift of it does; `kinks` the same of one unit at each kink
    of its scale, and `courses` what half of that does by which it may run apart there. Their drifts
    are in `course` and `departure`. `standing` is what one unit does that its opening check found
    off and that stood from then on as another error than the rest
    (`acquire.analysis.meter.onepiece`).
    """

    stages: tuple[str, ...]
    bracket: Bracket | None
    weight: float
    lever: float
    departure: Departure
    readings: int
    balance: float
    course: float = 0.0
    rise: Rise | None = None
    gain: Effect = NOTHING
    kinks: tuple[Effect, ...] = ()
    courses: tuple[float, ...] = ()
    standing: float = 0.0

    @property
    def stage(self) -> str:
        return self.stages[0] if len(self.stages) == 1 else " and ".join(self.stages)

    @property
    def is_balanced(self) -> bool:
        # What is not known of a meter without a check is taken to be in proportion in a ratio.
        return abs(self.weight if self.bracket is not None else self.balance) <= BALANCED


@dataclass(frozen=True, slots=True)
class Contrast:
    """Pairs of cell and weight; every cell has readings, and appears once."""

    parts: tuple[tuple[Cell, float], ...]

    @property
    def estimate(self) -> float:
        """The weighted sum of the means, in the unit of the readings."""
        means = [(w, c.summary.mean) for c, w in self.parts]
        return math.fsum([w * mean for w, mean in means if mean is not None])

    @property
    def total_weight(self) -> float:
        """1 for a value, 0 for a difference."""
        return math.fsum([w for _, w in self.parts])

    @property
    def mean_weight(self) -> float:
        """Root of the sum of squared weights: for errors that are one per cell mean."""
        return math.hypot(*(w for _, w in self.parts))

    @property
    def display_weight(self) -> float:
        """As `mean_weight`, for one unit of the readings: in a ratio each is over its mean."""
        return math.hypot(*[w * c.per_unit for c, w in self.parts])

    @property
    def pull_weight(self) -> float:
        """What an error of the meter does that is one unit for all readings."""
        return math.fsum([w * h.weight for c, w in self.parts for h in c.holdings])

    @property
    def is_relative(self) -> bool:
        """Whether it is the logarithm of a ratio."""
        return any([c.is_relative for c, _ in self.parts])

    @property
    def is_difference(self) -> bool:
        """Whether it is one of values as they are: a ratio is free of an error in proportion."""
        return abs(self.total_weight) <= BALANCED and not self.is_relative

    @property
    def reading_weight(self) -> float:
        """Root of the sum of squared weights over n: for errors that are one per reading."""
        return math.hypot(*(w / math.sqrt(c.n) for c, w in self.parts))

    def of(self, treatment: str) -> Contrast:
        """The part of one treatment."""
        return Contrast(tuple((c, w) for c, w in self.parts if c.treatment == treatment))

    def minus(self, other: Contrast) -> Contrast:
        """This less another one with no cell in common."""
        return Contrast(self.parts + tuple((c, -w) for c, w in other.parts))

    def shares(self, *, is_gain_in: bool = True, is_of_one_in: bool = True) -> tuple[Share, ...]:
        """What each bracket or stretch has in it, in the order of first appearance.

        An error that grows with the reading is left aside where `is_gain_in` is not set, and so is
        one of a meter whose checks read one piece alone where `is_of_one_in` is not: the result has
        what was found as it is then, or as it was taken off.
        """
        found: dict[tuple[str, int, str], list[tuple[str, float, Holding]]] = {}
        for cell, weight in self.parts:
            for holding in cell.holdings:
                # One pair of checks is one error of the meter, however many stages lie in it.
                of_stage = cell.stage if holding.bracket is None else ""
                # By identity: there is one object for each pair of checks.
                key = (of_stage, id(holding.bracket), holding.stretch)
                found.setdefault(key, []).append((cell.stage, weight, holding))
        is_difference = self.is_difference
        return tuple(
            [
                _share(
                    held,
                    is_gain_in=is_gain_in,
                    is_of_one_in=is_of_one_in,
                    is_difference=is_difference,
                )
                for held in found.values()
            ]
        )


def _share(
    held: Sequence[tuple[str, float, Holding]],
    *,
    is_gain_in: bool,
    is_of_one_in: bool,
    is_difference: bool,
) -> Share:
    """Of holdings of one bracket or stretch, with their stages and weights."""
    first = held[0][2]
    bracket, rise = first.bracket, first.rise
    if rise is not None and not (is_gain_in and (is_of_one_in or not rise.is_of_one)):
        rise = None
    drift = (bracket.drift if bracket is not None else None) or 0.0
    course = rise.course(drift) if rise is not None else 0.0
    weight = math.fsum([w * h.weight for _, w, h in held])
    lever = math.fsum([w * h.lever for _, w, h in held])
    gain: Effect = NOTHING
    kinks: tuple[Effect, ...] = ()
    courses: tuple[float, ...] = ()
    if rise is not None:
        gain = _added([(w, h.gain) for _, w, h in held])
        if not is_difference and rise.drift_base is None:
            # All that its piece drifted by may be in a value.
            gain, course = (gain[0], 0.0), 0.0
        kinks = tuple(
            [_added([(w, h.kinks[k]) for _, w, h in held]) for k in range(len(rise.kinks))]
        )
        courses = tuple(
            [math.fsum([w * h.courses[k] for _, w, h in held]) for k in range(len(rise.kinks))]
        )
    return Share(
        tuple(dict.fromkeys(stage for stage, _, _ in held)),
        bracket,
        weight,
        lever,
        _departure_of(held, weight, lever, is_grown=course > 0),
        sum(h.readings for _, _, h in held),
        math.fsum([w * h.part for _, w, h in held]),
        course or abs(drift),
        rise,
        gain,
        kinks,
        courses,
    )


def _added(effects: Sequence[tuple[float, Effect]]) -> Effect:
    return (
        math.fsum([w * weight for w, (weight, _) in effects]),
        math.fsum([w * lever for w, (_, lever) in effects]),
    )


def _departure_of(
    held: Sequence[tuple[str, float, Holding]], weight: float, lever: float, *, is_grown: bool
) -> Departure:
    """Of a drift of one unit; where it `is_grown`, by how much each reading drifts by itself.

    It is one drift: of its course all that it does is counted together.
    """
    if is_grown:
        weight, lever = _added([(w, h.drifted) for _, w, h in held])
        units = [
            (h.drifting, w * h.part / h.readings) for _, w, h in held if h.drifting is not None
        ]
        return _departure(tuple(units), weight, lever)
    if len(held) == 1:
        ((_, w, only),) = held
        return _departure((_unit(only, 1.0),), only.weight, only.lever).times(w)
    return _departure(tuple([_unit(h, w) for _, w, h in held]), weight, lever)


def _unit(holding: Holding, weight: float) -> Weighed:
    return holding.read, weight * holding.part / holding.readings


# A bare stage is in the change of every later one, with the same weights: so it is worked out once.
@lru_cache(maxsize=4096)
def _departure(read: tuple[Weighed, ...], weight: float, lever: float) -> Departure:
    return departure_among(read, weight, lever)


def value_of(cell: Cell) -> Contrast:
    """The mean of one cell."""
    return Contrast(((cell, 1.0),))


def change_of(zones: Sequence[tuple[Cell, ...]]) -> Contrast:
    """The mean over zones of after minus bare; `zones` are pairs of (bare cell, after cell).

    Where the plan has no bare stage each has the one cell alone.
    """
    weight = 1 / len(zones)
    return Contrast(
        tuple(
            [(cell, weight if cell is cells[-1] else -weight) for cells in zones for cell in cells]
        )
    )
