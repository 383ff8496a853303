"""Where the line is slack: the noise of a trace, its flat stretches, and the zero under it all.

The zero of a gauge wanders while it warms up, so it is taken from every stretch at which nothing
pulls, and interpolated between them. A flat stretch is not enough: a sled that slides smoothly and
a line that is held still give one, too. The zero wanders slowly, and what lies above the lowest
stretches by more than it could have wandered is no zero. Pure; any thread.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d, minimum_filter1d

from acquire.analysis.slickness.rules import Rules

Floats = NDArray[np.float64]

_BLOCKS_HZ = 100.0
_SHORTEST = 8
_LONGEST = 64
"""Second differences in a stretch that tells the noise."""
_QUIET_S = 0.8
"""Between the moments of a pull: a stretch of 64 samples of a slow gauge holds one of them."""
_FLAT_S = 0.4
_FEWEST_FLAT = 4
_PIECE_S = 2.0
_SPREAD = 7.0
"""Of the noise, for largest less smallest of a flat stretch: 40 normal values stay within."""
_SPARE = 0.5
"""Of `slack_n`, beside the noise: steps of the digits, and a zero that wanders."""


@dataclass(frozen=True, slots=True)
class Blocks:
    """A trace in means of `size` samples, `rate_hz` a second, with the noise of one mean."""

    force_n: Floats
    size: int
    rate_hz: float
    noise_n: float


@dataclass(frozen=True, slots=True)
class Flat:
    """A stretch of blocks, from `start` to before `end`, in which the force stood still."""

    start: int
    end: int
    level_n: float


@dataclass(frozen=True, slots=True)
class Rests:
    """`flats` is every flat stretch, `slack` those of them that are the zero, in order.

    `zero_n` is the zero under every block; empty where there is no slack stretch.
    """

    flats: tuple[Flat, ...]
    slack: tuple[Flat, ...]
    zero_n: Floats


def noise_of(force_n: Floats, rate_hz: float) -> float:
    """The standard deviation of single samples about what they measure, in newton.

    From second differences, which a steady rise leaves out, over stretches so short that many lie
    between the onset, the slip and the end of a pull; the quiet quarter of them counts, so that
    those do not. Never below what the steps of the digits hide.
    """
    if force_n.size < 3:
        return 0.0
    second = np.diff(force_n, 2)
    length = int(
        min(_LONGEST, max(_SHORTEST, second.size // 40), max(_SHORTEST, _QUIET_S * rate_hz))
    )
    whole = second.size // length * length
    if whole:
        rows = second[:whole].reshape(-1, length)
        found = float(np.quantile(np.sqrt(np.mean(rows * rows, axis=1) / 6.0), 0.25))
        found *= _quarter(_LONGEST) / _quarter(length)
    else:
        found = float(np.sqrt(np.mean(second * second) / 6.0))
    some = np.abs(np.diff(force_n[: 1 << 14]))
    steps = some[some > 1e-12]
    step = float(steps.min()) if steps.size else 0.0
    return max(found, step / 12**0.5)


def _quarter(count: int) -> float:
    """The lower quartile of root mean squares of `count` second differences of white noise of 1.

    Their neighbours correlate by -4/6 and 1/6, so that a mean square of them varies by
    2 (1 + 2 (16 + 1) / 36) / count; the quartile of the normal distribution is -0.674.
    """
    return 1 - 0.674 * math.sqrt((1 + 17 / 18) / (2 * count))


def blocks_of(force_n: Floats, rate_hz: float, noise_n: float) -> Blocks:
    """About a hundred means a second; the samples themselves where they are not so many."""
    size = max(1, int(rate_hz / _BLOCKS_HZ))
    whole = force_n.size // size * size
    means = force_n[:whole].reshape(-1, size).mean(axis=1) if size > 1 else force_n
    return Blocks(means, size, rate_hz / size, noise_n / size**0.5)


def rests_of(blocks: Blocks, rules: Rules) -> Rests:
    """Every stretch that stood still for 0.4 s, and the zero."""
    flats = _flats(blocks, rules)
    slack = _slack(flats, blocks, rules)
    if not slack:
        return Rests(flats, (), np.empty(0))
    at, level = [], []
    piece = max(1, round(_PIECE_S * blocks.rate_hz))
    for flat in slack:
        # In pieces, since the zero wanders within a long rest, too; none of them a mere crumb.
        pieces = max(1, (flat.end - flat.start) // piece)
        edges = np.linspace(flat.start, flat.end, pieces + 1).astype(int)
        for a, b in pairwise(edges.tolist()):
            at.append((a + b - 1) / 2)
            level.append(float(blocks.force_n[a:b].mean()))
    zero = np.interp(np.arange(blocks.force_n.size), at, level)
    return Rests(flats, slack, zero)


def _flats(blocks: Blocks, rules: Rules) -> tuple[Flat, ...]:
    force = blocks.force_n
    length = max(_FEWEST_FLAT, round(_FLAT_S * blocks.rate_hz))
    if force.size < length:
        return ()
    # origin puts the window before its place: high[i] is over force[i : i + length].
    origin = -(length // 2)
    high = maximum_filter1d(force, length, origin=origin)[: force.size - length + 1]
    low = minimum_filter1d(force, length, origin=origin)[: force.size - length + 1]
    still = high - low <= _SPREAD * blocks.noise_n + _SPARE * rules.slack_n
    edges = np.flatnonzero(np.diff(np.concatenate(([False], still, [False]))))
    found: list[Flat] = []
    for start, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        last = end - 1 + length
        if found and start < found[-1].end:
            # Two that overlap stand at two levels: the border goes into the middle.
            middle = (start + found[-1].end) // 2
            before = found.pop()
            found.append(_flat(force, before.start, middle))
            start = middle  # noqa: PLW2901
        found.append(_flat(force, start, last))
    return tuple(found)


def _flat(force: Floats, start: int, end: int) -> Flat:
    return Flat(start, end, float(np.median(force[start:end])))


def _slack(flats: tuple[Flat, ...], blocks: Blocks, rules: Rules) -> tuple[Flat, ...]:
    """Those within reach of the lowest, before and behind, by what the zero can have wandered."""
    room = rules.slack_n + 3 * blocks.noise_n
    drift = rules.drift_n_per_s / blocks.rate_hz
    onward = _reach([(f.start, f.end, f.level_n) for f in flats], drift)
    back = _reach([(-f.end, -f.start, f.level_n) for f in reversed(flats)], drift)
    return tuple(
        flat
        for flat, a, b in zip(flats, onward, reversed(back), strict=True)
        if flat.level_n <= min(a, b) + room
    )


def _reach(flats: list[tuple[int, int, float]], drift: float) -> list[float]:
    """The highest zero at each flat stretch that those before it leave possible.

    Time counts from the end of one that is a zero itself: it is known how far that one wandered.
    """
    reach: list[float] = []
    highest, since = float("inf"), 0
    for start, end, level in flats:
        highest += drift * (start - since)
        reach.append(min(level, highest))
        if level <= highest:
            highest, since = level, end
        else:
            since = start
    return reach
