"""Knocks told from breakaways: the force comes back to the line that it was on before.

While the sled stands the force goes on at the pull's own rate. A sled that breaks free ends that:
from then on the force lies below the line that it was on, and it had reached its peak along that
line. A knock on the bench or the gauge shakes the force for some hundredths of a second and moves
no sled: the force leaves its line faster than the hand pulls, and is on it again behind the knock.
The line is a rise, or as flat as that of a sled that slides or a line that is held. Pure; any
thread.
"""

from __future__ import annotations

from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

RISES_S = 0.035
"""A knock has risen within so long, and this is how far behind a peak the line is looked at."""
_LINES_S = 0.1
"""The line is that of so long before."""
_STOOD_S = 0.2
"""A line that did not rise for so long stood still."""
_SMEARED_S = 0.002
_OVER_S = 0.08
"""So long behind its top a knock is over."""
_BEHIND_S = 0.13
"""From there on; of so long the middle force is where the line is, though it is struck again."""
RATES = 3.0
"""Of the pull's own rate: no hand changes its speed by as much within `RISES_S`."""
_BACK = 0.02
"""Of the level: what stood before and stands so near it afterwards has moved nothing."""
_FASTER = 2.0
_LEAST = 0.005
"""Of the peak: a lower knock does not spoil it."""
_SHORT_OF = 0.15
"""Of its depth: a dip has come back to its line."""
_SWING = 0.15
"""Of its height: what swings less is not of a ring any more."""
_NOISES = 6.0
_SPIKES = 8.0
_ALONE = 4.0


class Forces(Protocol):
    """Forces above zero in newton: `smooth` ones with the noise `noise_n`, `rate_hz` a second.

    `freed` are blocks of `size` samples that are freed of knocks.
    """

    @property
    def smooth(self) -> Floats: ...
    @property
    def freed(self) -> Floats: ...
    @property
    def size(self) -> int: ...
    @property
    def rate_hz(self) -> float: ...
    @property
    def noise_n(self) -> float: ...


class Stretch(NamedTuple):
    """From the last sample before a knock to the first one behind it."""

    first: int
    last: int


def without_spikes(force_n: Floats, noise_n: float) -> Floats:
    """The same forces with each that stands alone replaced by the mean of its neighbours.

    It differs from them by eight times the noise `noise_n` of a sample, and four times what its
    neighbours differ by among each other and from theirs: no sampled peak of a line does.
    """
    if force_n.size < 5:
        return force_n
    middle = (force_n[1:-3] + force_n[3:-1]) / 2
    off = np.abs(force_n[2:-2] - middle)
    some = np.flatnonzero(off > _SPIKES * noise_n)
    if not some.size:
        return force_n
    at = some + 2
    around = np.maximum(
        np.abs(force_n[at + 1] - force_n[at - 1]),
        np.maximum(
            np.abs(force_n[at - 1] - force_n[at - 2]), np.abs(force_n[at + 2] - force_n[at + 1])
        ),
    )
    alone = some[off[some] > _ALONE * np.maximum(around, noise_n)]
    if not alone.size:
        return force_n
    freed = force_n.copy()
    freed[alone + 2] = middle[alone]
    return freed


def knock_at(cut: Forces, top: int, end: int, level_n: float) -> Stretch | None:
    """The knock whose highest sample is `top`; None where the force broke away there.

    `end` is where the force has come back near the kinetic level `level_n`.
    """
    brink = _brink(cut, top, end)
    bump = _bump(cut, top, level_n)
    if bump is not None or end - brink > max(2, round(_OVER_S * cut.rate_hz)):
        return bump
    return _dip(cut, brink, end, level_n)


def _brink(cut: Forces, top: int, end: int) -> int:
    """Where the force begins to fall from its top to `end`."""
    force = cut.smooth[top : end + 1]
    height = float(force[0])
    near = height - max(4 * cut.noise_n, 0.1 * (height - float(force[-1])))
    return top + int(np.flatnonzero(force >= near)[-1])


class _Line(NamedTuple):
    """The line that the force was on before a sample, and how far above it the force is.

    `off` begins `gap` samples before that sample and ends some time behind it; `stood` says that
    the line did not rise, `rate_n` is what it or the pull as a whole gains a sample. `fallen_n` is
    how far the middle of the forces behind a knock lies below the foot of the line.
    """

    off: Floats
    gap: int
    over: int
    stood: bool
    rate_n: float
    fallen_n: float


def _line_to(cut: Forces, top: int, level_n: float) -> _Line | None:
    """None too near an end of the trace to tell."""
    force = cut.smooth
    gap = max(2, round(RISES_S * cut.rate_hz))
    over = max(2, round(_OVER_S * cut.rate_hz))
    foot = top - gap
    if foot < 5 or top + over >= force.size:
        return None
    own = own_rate(cut, foot, level_n)
    later = float(np.median(force[top + over :][: max(3, gap, round(_BEHIND_S * cut.rate_hz))]))
    stood_n = _stood(cut, foot, later, level_n, own)
    if stood_n is None:
        slope, at_foot = _slope(force, cut.rate_hz, foot, level_n)
        # A hand that trembles pulls now slower, now faster than it does on the whole.
        slope = max(slope, own)
    else:
        slope, at_foot = 0.0, stood_n
    stop = min(force.size, top + over + gap)
    off = force[foot:stop] - (at_foot + slope * np.arange(stop - foot))
    return _Line(off, gap, over, stood_n is not None, max(slope, own), at_foot - later)


def _bump(cut: Forces, top: int, level_n: float) -> Stretch | None:
    """A knock that lifts the force: it left its line faster than a hand pulls, or is back on it."""
    line = _line_to(cut, top, level_n)
    if line is None:
        return None
    off, gap = line.off, line.gap
    excess, height = float(off[gap]), float(cut.smooth[top])
    if excess <= max(_NOISES * cut.noise_n, _LEAST * height):
        return None
    fastest = max(
        (height - float(cut.smooth[top - n])) / max(line.rate_n * n, 2 * cut.noise_n)
        for n in (max(1, gap // 4), max(1, gap // 2), gap)
    )
    fallen = -float(off[gap + line.over :].mean())
    if line.stood:
        is_back = min(fallen, line.fallen_n) < max(_BACK * level_n, _NOISES * cut.noise_n)
    else:
        is_back = fastest > _FASTER and fallen < excess
    return _lifted(cut, line, top) if fastest > RATES or is_back else None


def _dip(cut: Forces, brink: int, end: int, level_n: float) -> Stretch | None:
    """A knock from whose bottom the force comes back to its line, or that ends on it."""
    line = _line_to(cut, brink, level_n)
    if line is None:
        return None
    behind = line.off[line.gap :]
    deep = int(np.argmin(behind[: line.gap + 1]))
    depth = -float(behind[deep])
    if (
        depth > _NOISES * cut.noise_n
        and float(behind[deep : line.over + 1].max()) > -_SHORT_OF * depth
    ):
        again = np.flatnonzero(behind[deep:] >= -0.02 * depth)
        last = deep + (int(again[0]) if again.size else int(np.argmax(behind[deep:])))
        return _wider(brink, brink + last, cut.rate_hz)
    thrown = _thrown_back(cut.smooth[brink:][: line.over + 1], deep, line.rate_n, cut.noise_n)
    if thrown:
        return _wider(brink, brink + thrown, cut.rate_hz)
    place = min(2 * (end - brink) + (end == brink), behind.size - line.gap)
    fallen = -float(behind[place : place + line.gap].mean())
    lower = _BACK * level_n if line.stood else 0.4 * (float(behind[0]) + fallen)
    return _lifted(cut, line, brink) if place > 0 and fallen < lower else None


def _thrown_back(force_n: Floats, deep: int, rate_n: float, noise_n: float) -> int:
    """How far behind the brink of a dip the force is thrown back to where it was; 0 if it is not.

    A hand that slows down leaves the line along which it pulled, so that the force does not come
    back to it. But a sled that slipped is loaded again no faster than the hand pulls.
    """
    again = np.flatnonzero(force_n[deep:] >= force_n[0])
    if not again.size or force_n[0] - force_n[deep] <= _NOISES * noise_n:
        return 0
    risen = float(force_n[deep + again[0]] - force_n[deep])
    return deep + int(again[0]) if risen > _FASTER * rate_n * int(again[0]) else 0


def _stood(cut: Forces, foot: int, after_n: float, level_n: float, own: float) -> float | None:
    """The force at which the line stood before `foot`; None where it rose.

    Where it is back there afterwards, half of the time is enough.
    """
    now = min(foot // cut.size, cut.freed.size - 1)
    here = float(cut.freed[now])
    seconds = _LINES_S if abs(after_n - here) < _BACK * level_n else _STOOD_S
    count = max(2, round(seconds * cut.rate_hz / cut.size))
    if now < count or here - float(cut.freed[now - count]) >= 0.25 * own * count * cut.size:
        return None
    return here


def _slope(force_n: Floats, rate_hz: float, foot: int, level_n: float) -> tuple[float, float]:
    """Slope (N a sample) of the line before `foot`, and its height there."""
    length = max(5, round(_LINES_S * rate_hz))
    part = force_n[max(0, foot - length + 1) : foot + 1]
    low = np.flatnonzero(part < 0.2 * level_n)
    if low.size and part.size - int(low[-1]) - 1 >= 3:
        part = part[int(low[-1]) + 1 :]
    # The middle of all slopes between ten means, so that an earlier knock bends it not.
    size = max(1, part.size // 10)
    whole = part.size // size * size
    means = part[part.size - whole :].reshape(-1, size).mean(axis=1)
    x = np.arange(means.size) * size - (whole - 1) + (size - 1) / 2
    i, j = np.triu_indices(means.size, 1)
    slope = float(np.median((means[j] - means[i]) / (x[j] - x[i])))
    return slope, float(np.median(means - slope * x))


def own_rate(cut: Forces, foot: int, level_n: float) -> float:
    """What the force gained a sample from three to nine tenths of the level, so far."""
    ahead = cut.freed[: foot // cut.size + 1]
    low = np.flatnonzero(ahead <= 0.3 * level_n)
    begin = int(low[-1]) if low.size else 0
    most = min(0.9 * level_n, float(ahead[begin:].max()))
    count = int(np.argmax(ahead[begin:] >= most)) * cut.size
    return (most - float(ahead[begin])) / count if count else 0.0


def _lifted(cut: Forces, line: _Line, top: int) -> Stretch:
    """From where the force leaves its line, upwards, to where it is on it again."""
    gap, foot = line.gap, top - line.gap
    excess = float(line.off[gap])
    near = max(0.02 * excess, 3 * cut.noise_n)
    ahead = np.flatnonzero(np.abs(line.off[:gap]) <= near)
    first = int(ahead[-1]) if ahead.size else 0
    swung = np.flatnonzero(line.off[:first] < -_SWING * excess)
    if swung.size > 1:
        # A ring that begins downwards crosses the line on its way to the top.
        ahead = ahead[ahead < swung[0]]
        first = int(ahead[-1]) if ahead.size else 0
    behind = line.off[gap:]
    # A ring is over where it stays small for a while.
    still = np.convolve(np.abs(behind) > _SWING * excess, np.ones(gap // 2 + 1), "valid") == 0
    if still.any():
        return _wider(foot + first, top + int(np.argmax(still)), cut.rate_hz)
    back = np.flatnonzero(behind <= near)
    last = int(back[0]) if back.size else max(1, int(np.argmin(behind[: gap + gap // 2 + 1])))
    # What swings back below the line belongs to the knock.
    again = np.flatnonzero(behind[last : last + gap + 1] >= -near)
    last += int(again[0]) if back.size and again.size else 0
    return _wider(foot + first, top + last, cut.rate_hz)


def _wider(first: int, last: int, rate_hz: float) -> Stretch:
    """With a little more on both sides, since the ends are sought in smoothed forces."""
    more = max(1, round(_SMEARED_S * rate_hz), (last - first) // 10)
    return Stretch(max(0, first - more), last + more)
