"""Knocks while the sled slides: rises that are faster than the hand pulls.

A sled is pulled and never goes back, so the line of a sled that slides, or sticks and slips, grows
no faster than the hand moves its end: the force rises at the pull's own rate at most, times what a
trembling hand adds, and falls as fast as it likes. What rises faster, and is back where it was
within some hundredths of a second, is a knock. Pure; any thread.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from acquire.analysis.slickness.cut import Cut
from acquire.analysis.slickness.knocks import RATES, RISES_S, Stretch, own_rate

_NOISES = 6.0
_LEAST = 0.01
"""Of the kinetic level: a lower one moves its mean by nothing."""
_ROOMS_S = (0.01, 0.02, 0.035, 0.05)
"""Before its first and behind its last rise a knock has begun and is over within the last of these;
the least that does is taken, since the line moves by itself meanwhile."""
_EDGE_S = 0.025
"""So long on both sides the force is looked at, for the line that the knock left."""
_ENDS = 0.1
"""Of its height: below that a knock has not begun or is over."""
_ALIKE = 0.25
"""Of its height: where the force differs by more around it, it is not told from what else moves."""


_SHARP = 0.5
"""Of its height: as much of it is in its rises, and not in what sticks and slips around them."""
_MOST = 0.2
"""Of the slide: where more rises so fast the hand pulls faster than it did at first."""


class SlideKnocks(NamedTuple):
    """`taken` stand apart from what else moves the force; `left` are not told from it."""

    taken: list[Stretch]
    left: list[Stretch]


def slide_knocks(cut: Cut, first: int, last: int, level_n: float) -> SlideKnocks:
    """The knocks from sample `first` to `last` of a slide at `level_n`, each in order of time."""
    found = SlideKnocks([], [])
    for rises in fast_rises(cut, first, last, RATES * own_rate(cut, first, level_n), level_n):
        tries = (_knock(cut, rises, first, last, room_s) for room_s in _ROOMS_S)
        knock = next((knock for knock in tries if knock is not None), None)
        if knock is None:
            found.left.append(rises)
        else:
            found.taken.append(knock)
    if sum(knock.last - knock.first for knock in found.taken) > _MOST * (last - first):
        return SlideKnocks([], sorted([*found.taken, *found.left]))
    return found


def fast_rises(cut: Cut, first: int, last: int, rate_n: float, level_n: float) -> list[Stretch]:
    """Where the force rises by more than `rate_n` a sample; what is near one another is of one."""
    force = cut.smooth[first : last + 1]
    least = max(_NOISES * 2**0.5 * cut.noise_n, _LEAST * level_n)
    gap = max(2, round(RISES_S * cut.rate_hz))
    fast = np.zeros(force.size, dtype=bool)
    for lag in sorted({max(1, gap // 4), max(1, gap // 2), gap}):
        risen = np.flatnonzero(force[lag:] - force[:-lag] > rate_n * lag + least)
        fast[risen + lag // 2] = True
    at = first + np.flatnonzero(fast)
    if not at.size:
        return []
    near = max(2, round((_ROOMS_S[-1] + _EDGE_S) * cut.rate_hz))
    groups = np.split(at, np.flatnonzero(np.diff(at) > near) + 1)
    return [Stretch(int(group[0]), int(group[-1])) for group in groups]


def _knock(cut: Cut, rises: Stretch, first: int, last: int, room_s: float) -> Stretch | None:
    """The knock with these rises, begun and over within `room_s` of them; None where it is not."""
    room = max(2, round(room_s * cut.rate_hz))
    edge = max(2, round(_EDGE_S * cut.rate_hz))
    start, stop = max(first, rises.first - room - edge), min(last + 1, rises.last + room + edge)
    part = cut.smooth[start:stop]
    low, high = float(np.median(part[:edge])), float(np.median(part[-edge:]))
    slope = (high - low) / max(1, part.size - edge)
    bent = part - low - slope * (np.arange(part.size) - (edge - 1) / 2)
    off = np.abs(bent)
    height = float(off.max())
    if max(float(off[:edge].max()), float(off[-edge:].max())) > _ALIKE * height:
        return None
    half = max(2, round(RISES_S * cut.rate_hz)) // 2 + 1
    sharp = bent[max(0, rises.first - half - start) : rises.last + half + 1 - start]
    if float(np.ptp(sharp)) < _SHARP * height:
        return None
    away = np.flatnonzero(off > max(_ENDS * height, 3 * cut.noise_n))
    more = max(1, (int(away[-1]) - int(away[0])) // 10)
    return Stretch(max(first, start + int(away[0]) - more), min(last, start + int(away[-1]) + more))
