"""Knocks on the bench while the line is pulled, held or sliding: what they add to the force.

A knock shakes gauge and line for some hundredths of a second and leaves the force that it found:
it moves no sled. A spike of one sample is a disturbance of the cable. Nothing of ours.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

_NEAR_S = 0.03


@dataclass(frozen=True, slots=True)
class Knock:
    """At `at_s`, of `size_n` newton: half a wave of `length_s`, a ring of `ring_hz`, or a spike.

    A spike has neither length nor ring and is in one sample.
    """

    at_s: float
    size_n: float
    length_s: float = 0.0
    ring_hz: float = 0.0

    @classmethod
    def drawn(cls, hits: random.Random, at_s: float, holds_n: float) -> Knock:
        """Of 0.05 to 2 times what holds the sled."""
        size = hits.choice((-1, 1, 1)) * math.exp(hits.uniform(math.log(0.05), math.log(2)))
        kind = hits.random()
        if kind < 0.15:
            return cls(at_s, size * holds_n)
        if kind < 0.6:
            return cls(at_s, size * holds_n, hits.uniform(0.008, 0.06))
        return cls(at_s, size * holds_n, hits.uniform(0.008, 0.03), hits.uniform(15, 60))

    @property
    def lasts_s(self) -> float:
        """As long as it is more than a fiftieth of itself."""
        return 4 * self.length_s if self.ring_hz else self.length_s

    def hides(self, at_s: float, rate_hz: float) -> bool:
        """Whether it is so near a peak that nobody can tell the two apart."""
        near = max(_NEAR_S, 2.5 / rate_hz)
        return self.at_s - near <= at_s <= self.at_s + self.lasts_s + near


def struck(force_n: NDArray[np.float64], rate_hz: float, knock: Knock) -> None:
    """Add the knock to the force, in place."""
    first = round(knock.at_s * rate_hz)
    count = min(max(1, round(knock.lasts_s * rate_hz)), force_n.size - first)
    if count <= 0:
        return
    t = np.arange(count) / rate_hz
    if not knock.length_s:
        wave = np.ones(count)
    elif knock.ring_hz:
        wave = np.exp(-t / knock.length_s) * np.cos(2 * np.pi * knock.ring_hz * t)
    else:
        wave = np.sin(np.pi * (t + 0.5 / rate_hz) / (count / rate_hz))
    force_n[first : first + count] += knock.size_n * wave


def knocks_on(
    hits: random.Random, peak_s: float, slide_s: float, begun_s: float, holds_n: float, rate: float
) -> list[Knock]:
    """None in most pulls; else on the flank of the rise, just before the breakaway, or behind it.

    `peak_s` counts from the beginning of the pull at `begun_s`.
    """
    kind = hits.random()
    if kind < 0.7:
        return []
    room = max(_NEAR_S, 2.5 / rate)
    found: list[Knock] = []
    if kind < 0.86:
        for _ in range(hits.choice((1, 1, 2))):
            found.append(Knock.drawn(hits, begun_s + hits.uniform(0.15, 0.9) * peak_s, holds_n))
    elif kind < 0.92:
        knock = Knock.drawn(hits, 0.0, holds_n)
        before = knock.lasts_s + room * hits.uniform(1.0, 2.5)
        found.append(moved_to(knock, begun_s + max(0.1 * peak_s, peak_s - before)))
    else:
        for _ in range(hits.choice((1, 2))):
            at = begun_s + peak_s + 0.15 + hits.uniform(0, 0.8) * slide_s
            found.append(Knock.drawn(hits, at, holds_n))
    return found


def moved_to(knock: Knock, at_s: float) -> Knock:
    """The same knock at another moment."""
    return Knock(at_s, knock.size_n, knock.length_s, knock.ring_hz)
