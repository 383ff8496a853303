"""How far a drift that does not run in a straight line may move a contrast.

Opening and closing check know the drift d between them, not its course. Let F(p) be the part of it
that has happened at position p (0 at the opening, 1 at the closing), w_i the weights of the
readings and p_i their positions. A contrast is moved by d sum(w_i F(p_i)). With

    S(tau) = sum of the weights read after tau,    L = sum(w_i p_i)  (the lever)

a straight line moves it by d L, and a step at tau by d S(tau). The mean of S over a step at a
uniformly random time is L: the line is what such steps come to, and the departure from it is

    u_step = |d| sqrt(integral of (S(tau) - L)^2 over tau from 0 to 1).

Every drift that goes one way only is a mixture of steps, so that none departs from the line by
more than |d| M, M = max |S(tau) - L|; taken as bounds of a rectangular law (GUM 4.3.7) this is
u_oneway = |d| M / sqrt(3). A rare step (two zones read one after the other, in a long bracket)
has a small u_step although it moves the contrast by all of d; steps in the middle of a bracket
lie at the bounds more often than a rectangular law has it. The larger of the two stands:

    u = |d| max(u_step, u_oneway).

Readings that alternate between the sides keep S near zero throughout, whatever the meter does.
A drift that went astray and came back leaves no trace in the checks and is not in it. Pure; any
thread.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_MANY = 60
"""Readings from which arrays are faster than a loop."""


class Departure(NamedTuple):
    """For a drift of one unit: `step` is the root mean square of S - L, `largest` its maximum."""

    step: float
    largest: float

    def times(self, weight: float) -> Departure:
        """Where every reading weighs so many times as much, with either sign."""
        size = abs(weight)
        return Departure(size * self.step, size * self.largest)

    @property
    def u(self) -> float:
        """The standard uncertainty that the unknown course of a drift of one unit leaves."""
        return max(self.step, self.largest / math.sqrt(3))


def departure_of(
    readings: Iterable[tuple[float, float]],
    weight: float | None = None,
    lever: float | None = None,
) -> Departure:
    """From pairs of position (0 to 1) and weight, in any order; zero where there are none.

    `weight` and `lever` are the sum of the weights and of weight times position, for a caller who
    has them.
    """
    ordered = sorted(readings)
    after = math.fsum([w for _, w in ordered]) if weight is None else weight
    if lever is None:
        lever = math.fsum([p * w for p, w in ordered])
    # A result has some hundred readings and a page some hundred results: no calls in the loop.
    since = square = low = high = 0.0
    for position, own in ordered:
        if position > since:
            gap = after - lever
            square += (position - since) * gap * gap
            if gap > high:
                high = gap
            elif gap < low:
                low = gap
            since = position
        after -= own
    if since < 1.0:
        gap = after - lever
        square += (1.0 - since) * gap * gap
        low, high = min(low, gap), max(high, gap)
    return Departure(math.sqrt(square), max(high, -low))


class Read:
    """Readings under one pair of checks: where they lie between these, and how an error pulls each.

    `positions` go from 0 at the opening to 1 at the closing check, `pulls` are what one unit of the
    meter's error does to each reading. Two of the same figures are equal. A cell comes back in many
    results, so its figures are hashed once and made into arrays once; never changed.
    """

    __slots__ = ("_arrays", "_hash", "positions", "pulls")

    def __init__(self, positions: tuple[float, ...], pulls: tuple[float, ...]) -> None:
        self.positions = positions
        self.pulls = pulls
        self._hash: int | None = None
        self._arrays: tuple[Floats, Floats] | None = None

    def __hash__(self) -> int:
        if self._hash is None:
            self._hash = hash((self.positions, self.pulls))
        return self._hash

    def __eq__(self, other: object) -> bool:
        if self is other:
            return True
        if not isinstance(other, Read) or hash(self) != hash(other):
            return False
        return self.positions == other.positions and self.pulls == other.pulls

    def __len__(self) -> int:
        return len(self.positions)

    def times(self, by: float) -> Read:
        """Where an error pulls each reading so many times as much."""
        return Read(self.positions, tuple([pull * by for pull in self.pulls]))

    @property
    def arrays(self) -> tuple[Floats, Floats]:
        """Positions and pulls."""
        if self._arrays is None:
            self._arrays = np.array(self.positions), np.array(self.pulls)
        return self._arrays


Weighed = tuple[Read, float]
"""Readings, and what one of them weighs where an error pulls it by one."""


def departure_among(read: Sequence[Weighed], weight: float, lever: float) -> Departure:
    """As `departure_of`, of readings that weigh what is said of each stretch times their pulls."""
    if sum([len(own) for own, _ in read]) < _MANY:
        pairs = [
            (position, each * pull)
            for own, each in read
            for position, pull in zip(own.positions, own.pulls, strict=True)
        ]
        return departure_of(pairs, weight, lever)
    order, lasting = _in_time(tuple([own for own, _ in read]))
    weights = np.concatenate([each * own.arrays[1] for own, each in read])
    gaps = np.empty(len(order) + 1)
    gaps[0] = weight
    gaps[1:] = weight - np.cumsum(weights[order])
    gaps -= lever
    square = float(lasting @ (gaps * gaps))
    # What lasts no time is no gap: readings of one moment come together.
    return Departure(math.sqrt(square), float(np.abs(gaps[lasting > 0]).max(initial=0.0)))


_START, _END = np.zeros(1), np.ones(1)


# What is kept of a gain asks for many weights of the same readings.
@lru_cache(maxsize=512)
def _in_time(read: tuple[Read, ...]) -> tuple[NDArray[np.intp], Floats]:
    """The order of readings of several stretches in time, and the times between them.

    The first is from the opening check on, the last until the closing one.
    """
    positions = np.concatenate([own.arrays[0] for own in read])
    order = np.argsort(positions, kind="stable")
    edges = np.concatenate([_START, positions[order], _END])
    return order, edges[1:] - edges[:-1]
