"""Every rise of the force above its zero that may be a pull, and where one ends and another begins.

A candidate begins and ends where the force is as good as zero. Gaps shorter than `quiet_s` belong
to it, since the force of a sled that sticks and slips comes near zero between its slips. Where the
line was held under tension between two pulls the force stands still below both of them: there a
candidate is cut in two. Pure; any thread.
"""

from __future__ import annotations

from bisect import bisect_left
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from acquire.analysis.slickness.rests import Blocks, Flat, Rests
from acquire.analysis.slickness.rules import Rules

Floats = NDArray[np.float64]

_STRUCK_S = 0.13
_HELD_BELOW = 0.5
"""Of the largest force on both sides: a line held higher is not told from a smooth slide."""


class Candidate(NamedTuple):
    """Blocks from `start` to before `end`.

    `held_n` is the force at which the line was held just before, 0 where it was slack.
    `cut_before` and `cut_behind` say that the trace begins or ends inside.
    """

    start: int
    end: int
    held_n: float
    cut_before: bool
    cut_behind: bool


def lowest_n(blocks: Blocks, rules: Rules) -> float:
    """Up to here a force is as good as zero."""
    return max(4 * blocks.noise_n, rules.least_n / 4)


def freed_of_knocks(force: Floats, rate_hz: float) -> Floats:
    """Blocks, `rate_hz` of them a second, without what is over within some hundredths of one."""
    width = max(3, round(_STRUCK_S * rate_hz)) | 1
    freed: Floats = median_filter(force, width, mode="nearest")
    return freed


def candidates_of(blocks: Blocks, rests: Rests, rules: Rules) -> list[Candidate]:
    """All of them in order of time, whatever becomes of them."""
    force = blocks.force_n - rests.zero_n
    low = lowest_n(blocks, rules)
    high = max(2 * low, rules.least_n / 2)
    size = np.abs(force)
    edges = np.flatnonzero(np.diff(np.concatenate(([False], size > low, [False]))))
    quiet = max(1, round(rules.quiet_s * blocks.rate_hz))
    spans: list[list[int]] = []
    for start, end in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        if spans and start - spans[-1][1] < quiet:
            spans[-1][1] = end
        else:
            spans.append([start, end])
    held = _held(rests, rules.held_s * blocks.rate_hz, rules.slack_n)
    starts = [flat.start for flat in held]
    found: list[Candidate] = []
    for start, end in spans:
        if float(size[start:end].max()) < high:
            continue
        inside = held[bisect_left(starts, start) : bisect_left(starts, end)]
        found += _split(start, end, force, inside, blocks.rate_hz)
    return found


def _split(
    start: int, end: int, force: Floats, held: list[Flat], rate_hz: float
) -> list[Candidate]:
    """The parts of a span, cut at every stretch at which the line was held."""
    last = force.size
    parts: list[Candidate] = []
    # A knock on either side of a smooth slide makes no line that was held.
    freed = freed_of_knocks(force[start:end], rate_hz) if held else force[start:end]
    begin, held_n = start, 0.0
    for flat in held:
        before, behind = freed[begin - start : flat.start - start], freed[flat.end - start :]
        if not before.size or not behind.size:
            continue
        level = float(np.median(force[flat.start : flat.end]))
        if level < _HELD_BELOW * min(float(before.max()), float(behind.max())):
            parts.append(Candidate(begin, flat.start, held_n, begin == 0, False))
            begin, held_n = flat.end, level
    parts.append(Candidate(begin, end, held_n, begin == 0, end == last))
    return parts


def _held(rests: Rests, shortest: float, near_n: float) -> list[Flat]:
    """Long flat stretches that are no zero; those with nothing between them are one if near.

    A line that gives way a little is still held.
    """
    slack = {flat.start for flat in rests.slack}
    found: list[Flat] = []
    for flat in rests.flats:
        if flat.start in slack:
            continue
        if (
            found
            and found[-1].end == flat.start
            and abs(found[-1].level_n - flat.level_n) <= near_n
        ):
            found[-1] = Flat(found[-1].start, flat.end, flat.level_n)
        else:
            found.append(flat)
    return [flat for flat in found if flat.end - flat.start >= shortest]
