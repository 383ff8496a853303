"""What a meter scatters by where its display rounds about as much away as it shows.

The standard deviation of readings that are rounded to a step counts the rounding, too: about
step/root 12 in squares where the meter scatters by half a step or more (W. F. Sheppard, Proc.
London Math. Soc. 29 (1898) 353), and anything from nothing to several times the truth where it
scatters by less, as the surface happens to lie in the middle of a step or at the edge of one. The
chi-squared interval of such a figure held the truth in 16 of 100 drawn studies at a scatter of 0.2
steps, in 66 at 0.4 and in 90 at 0.7.

So the likelihood of what was rounded is taken: a reading of x says that the meter had something
from x - step/2 to x + step/2. The readings of a cell (one surface, one person) are normal about a
level of its own, which may lie anywhere, and is integrated out; all cells have one scatter sigma.
The figure is the sigma of the largest such likelihood. Its limits have 2.5 % of it beyond them: the
lower one over ln sigma, the upper one, where sigma is below half a step, over sigma itself. There
the number of readings that fell to the other side of an edge tells sigma, and these are the limits
of a Poisson law's mean (F. Garwood, Biometrika 28 (1936) 437). For a small step it is the pooled
standard deviation and its chi-squared interval. That the likelihood of rounded data is due: C.-S.
Lee and S. B. Vardeman, J. Qual. Technol. 33 (2001) 335; the integration over levels: D. A.
Harville, Biometrika 61 (1974) 383. All from memory. By drawing, studies of one to ten surfaces of
three to twenty readings that scatter by 0.2 to 0.7 steps, the interval holds the truth in 93 to 100
of 100, and in 2 to 5 it lies below it, where the surfaces lie anywhere in a step; where all of them
lie in the very middle of one, readings that scatter by a third of a step hide more than it allows
for. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from acquire.analysis.budget.uncertainty import CONFIDENCE
from acquire.analysis.laws.special import ndtr

Floats = NDArray[np.float64]

COARSE = 3.0
"""Steps of the display: the standard deviation of readings that scatter by more has less than half
a percent of rounding in it."""
_LEAST, _MOST = 0.01, 100.0
"""What sigma is looked for: from so many steps, where the likelihood goes with a power of it, to so
many times what readings are apart."""
_PER_FACTOR = 12
"""Values of sigma in each factor of e: intervals are sure to a hundredth of themselves."""
_HALF_FLAT = 0.5
"""In steps: below, the upper limit takes sigma and not its logarithm to be equally likely."""
_SHARP = 0.2
"""In steps: below, an edge of a step is sharp, and levels beyond it are looked for by sigma."""
_NOTHING, _TINY = 20.0, 1e-300
"""A logarithm of what is left of a likelihood that counts for nothing; a chance that does."""
_WIDE, _FINE = 8.0, 4
"""How many sigma beyond its edges a level is looked for, and how many points a sigma has."""


class RoundedScatter(NamedTuple):
    """What rounded readings say of the scatter behind them, in their unit.

    `sd` is the likeliest, `low` to `high` hold 95 %. `sigmas` are what it may be, and `weights` how
    likely each is, summing to 1; what is below the first of them is taken to be there.
    """

    sd: float
    low: float
    high: float
    step: float
    sigmas: Floats
    weights: Floats

    def times(self, factor: float) -> RoundedScatter:
        """Of readings that scatter by so many times as much."""
        return self._replace(
            sd=self.sd * factor,
            low=self.low * factor,
            high=self.high * factor,
            sigmas=self.sigmas * factor,
        )

    def beyond(self, difference: float) -> tuple[int, float]:
        """How many steps are more than `difference`, and how likely two readings differ by these.

        Two values d steps apart are shown k steps or more apart with the chance
        min(1, max(0, d - k + 1)), since the surface may lie anywhere in a step.
        """
        steps = math.floor(difference / self.step * (1 + 1e-9)) + 1
        apart = math.sqrt(2) * self.sigmas / self.step
        shown = _beyond(apart, steps - 1) - _beyond(apart, steps)
        return steps, float(self.weights @ shown)


def scatter_of_rounded(
    cells: Sequence[Sequence[float]], step: float, confidence: float = CONFIDENCE
) -> RoundedScatter | None:
    """The scatter that all `cells` have in common; None where no cell has two unlike readings.

    Raises ValueError where the `step` is not above 0.
    """
    if not step > 0:
        raise ValueError(f"a step of the display above 0 is wanted, got {step}")
    read = [
        _Readings.of(np.array(cell, dtype=np.float64) / step) for cell in cells if len(cell) > 1
    ]
    unlike = sum(cell.values.size > 1 for cell in read)
    if not unlike:
        return None
    apart = max(float(np.ptp(cell.values)) for cell in read)
    width = 1 / _PER_FACTOR
    table: list[float] = []
    at = math.log(_LEAST)
    # The peak lies at what readings are apart or below; far beyond it nothing is left.
    while at <= math.log(_MOST * apart) and (
        at <= math.log(apart) or table[-1] > max(table) - _NOTHING
    ):
        table.append(sum(cell.likely(math.exp(at)) for cell in read))
        at += width
    likely = np.array(table)
    logs: Floats = math.log(_LEAST) + width * np.arange(likely.size, dtype=np.float64)
    sigmas: Floats = np.exp(logs)
    top = int(np.argmax(likely))
    parts = np.exp(likely - likely[top])
    # Each cell with unlike readings wants its level at the edge of a step, so near as sigma.
    parts[0] += float(parts[0]) / unlike / width
    tail = (1 - confidence) / 2
    low = 0.0 if parts[0] >= tail * parts.sum() else math.exp(_reached(tail, parts, logs))
    high = math.exp(_reached(1 - tail, parts * sigmas / (sigmas + _HALF_FLAT), logs))
    return RoundedScatter(
        step * _peak(logs, likely, top), step * low, step * high, step, step * sigmas,
        parts / parts.sum(),
    )  # fmt: skip


class _Readings(NamedTuple):
    """What one cell shows, in steps: its different values, how often each, and the mean."""

    values: Floats
    counts: Floats
    mean: float

    @classmethod
    def of(cls, cell: Floats) -> _Readings:
        values, counts = np.unique(cell, return_counts=True)
        return cls(values[:, None], counts.astype(np.float64), float(cell.mean()))

    def likely(self, sigma: float) -> float:
        """ln of the likelihood of the readings where they scatter by `sigma`, over all levels."""
        near = sigma / math.sqrt(self.counts.sum())
        # The level that suits best lies within half a step of the mean, or of what sigma leaves.
        half = 0.5 + _WIDE * (sigma if sigma < _SHARP else near)
        levels = np.linspace(
            self.mean - half, self.mean + half, 1 + math.ceil(2 * half * _FINE / near)
        )
        off = self.values - levels
        # From the side where the normal law has its digits.
        off = np.where(off > 0, -off, off) / sigma
        chances = ndtr(off + 0.5 / sigma) - ndtr(off - 0.5 / sigma)
        logs = self.counts @ np.log(np.maximum(chances, _TINY))
        best = float(logs.max())
        return best + math.log(float(np.exp(logs - best).sum()) * float(levels[1] - levels[0]))


def _reached(part: float, parts: Floats, logs: Floats) -> float:
    """Where so much of all parts lies below; each has its place in the middle."""
    below = np.cumsum(parts) - parts / 2
    return float(np.interp(part * parts.sum(), below, logs))


def _peak(logs: Floats, likely: Floats, top: int) -> float:
    """The sigma of the largest likelihood, between the points of the table."""
    if top in {0, likely.size - 1}:
        return 0.0 if top == 0 else math.exp(float(logs[top]))
    before, here, after = (float(v) for v in likely[top - 1 : top + 2])
    off = (before - after) / 2 / (before - 2 * here + after)
    return math.exp(float(logs[top]) + off * float(logs[1] - logs[0]))


def _beyond(apart: Floats, steps: int) -> Floats:
    """The mean of what a difference of normal law exceeds `steps` by, either way; 0 or more."""
    z = steps / apart
    found: Floats = 2 * (apart * np.exp(-(z**2) / 2) / math.sqrt(2 * math.pi) - steps * ndtr(-z))
    return found
