"""A whole trace with its rests, and one candidate cut out of it. Pure; any thread."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from acquire.analysis.slickness.candidates import Candidate, freed_of_knocks
from acquire.analysis.slickness.knocks import Stretch, own_rate, without_spikes
from acquire.analysis.slickness.rests import Blocks, Rests
from acquire.analysis.slickness.rules import Rules

Floats = NDArray[np.float64]

_REST_S = 0.015
_LONGEST_S = 0.16
_ONE_S = 0.15
"""Swings so near to one another are of one knock."""
_STOOD_S = 0.5
_STOOD_NEAR = 0.04
"""Of the level: a force that stayed so near it for so long stood there."""
_SMOOTH_S = 0.004


@dataclass(frozen=True, slots=True)
class Trace:
    """A whole trace (N) with what was found of its rests."""

    force_n: Floats
    rate_hz: float
    noise_n: float
    blocks: Blocks
    rests: Rests
    rules: Rules


class Cut:
    """The samples of one candidate above zero, with some of the rests around it.

    `raw` as they came from sample `first` on, `smooth` over 4 ms, with the noise `noise_n` of one
    of them; `freed` are blocks that are freed of knocks, `inner` those of the candidate itself,
    `span` its samples. A knock that is taken out is in none of them.
    """

    def __init__(self, trace: Trace, candidate: Candidate) -> None:
        blocks = trace.blocks
        size = blocks.size
        around = max(2, round(0.1 * blocks.rate_hz))
        self.first_block = max(0, candidate.start - around)
        last = min(blocks.force_n.size, candidate.end + around)
        self.first = self.first_block * size
        self.last = min(trace.force_n.size, last * size)
        at = np.arange(self.first, self.last, dtype=float)
        centres = np.arange(self.first_block, last) * size + (size - 1) / 2
        self.zero = np.interp(at, centres, trace.rests.zero_n[self.first_block : last])
        self.at_s = at / trace.rate_hz
        self.raw: Floats = without_spikes(
            trace.force_n[self.first : self.last] - self.zero, trace.noise_n
        )
        self.knocks: list[Stretch] = []
        # Whether one was so long that a first peak may have been in it.
        self.hidden = False
        length = max(1, round(_SMOOTH_S * trace.rate_hz)) | 1
        self.smoothed = length
        self.rate_hz = trace.rate_hz
        self.noise_n = trace.noise_n / length**0.5
        self.smooth: Floats = uniform_filter1d(self.raw, length) if length > 1 else self.raw
        self.inner = slice(candidate.start - self.first_block, candidate.end - self.first_block)
        self.span = slice(candidate.start * size - self.first, candidate.end * size - self.first)
        self.size = size
        self._coarse: Floats = self.raw.reshape(-1, size).mean(axis=1)
        self.freed: Floats = freed_of_knocks(self._coarse, blocks.rate_hz)

    def rest_of_knock(self, top: int) -> Stretch | None:
        """The knock that ended at `top`, as far as it went on behind it; None where none did."""
        more = max(2, round(_REST_S * self.rate_hz))
        for knock in reversed(self.knocks):
            if knock.first <= top <= knock.last + 1:
                longer = Stretch(knock.first, max(top, knock.last) + more)
                self.hidden |= longer.last - longer.first > _LONGEST_S * self.rate_hz
                return longer
        return None

    def stood(self, start: int, level_n: float) -> bool:
        """Whether the force had stood near its level before it went higher at `start`.

        Then nobody can tell whether the sled had slid already or was held. A force that rises
        slowly has not stood.
        """
        now = start // self.size
        count = max(5, round(_STOOD_S * self.rate_hz / self.size))
        before = self.freed[max(0, now - count) : now]
        if before.size < count:
            return False
        third = max(1, count // 3)
        gained = float(before[-third:].mean() - before[:third].mean())
        near = float(np.abs(before - level_n).max()) < _STOOD_NEAR * level_n
        return near and gained < 0.5 * own_rate(self, start, level_n) * (count - third) * self.size

    def left_out(self) -> str:
        """The moments of what was taken out, as a sentence."""
        one, moments = self.moments_of(self.knocks)
        return f"{'A knock' if one else 'Knocks'} at {moments} {'is' if one else 'are'} left out."

    def moments_of(self, knocks: Iterable[Stretch]) -> tuple[bool, str]:
        """Whether they are one, as far as they are told apart, and their moments as words."""
        at: list[float] = []
        for moment in sorted(
            float(self.at_s[min((knock.first + knock.last) // 2, self.at_s.size - 1)])
            for knock in knocks
        ):
            if not at or moment - at[-1] > _ONE_S:
                at.append(moment)
        few = " and ".join(f"{moment:.2f} s" for moment in at[:3])
        return len(at) == 1, few + (f" and {len(at) - 3} more" if len(at) > 3 else "")

    def clear(self, knock: Stretch) -> None:
        """Take a knock out of the forces: a straight line from its one end to the other."""
        last = min(knock.last, self.raw.size - 1)
        self.knocks.append(knock)
        between = np.linspace(self.smooth[knock.first], self.smooth[last], last - knock.first + 1)
        self.raw[knock.first : last + 1] = between
        self.smooth[knock.first : last + 1] = between
        # Two knocks near one another are half of what a block is freed over, which leaves them in:
        # without the one the other goes, too.
        some = slice(knock.first // self.size, last // self.size + 1)
        whole = self.raw[some.start * self.size : some.stop * self.size]
        self._coarse[some] = whole.reshape(-1, self.size).mean(axis=1)
        self.freed = freed_of_knocks(self._coarse, self.rate_hz / self.size)
