"""A whole trace with its rests, and one candidate cut out of it. Pure; any thread."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter, uniform_filter1d

from acquire.analysis.slickness.candidates import Candidate
from acquire.analysis.slickness.rests import Blocks, Rests
from acquire.analysis.slickness.rules import Rules

Floats = NDArray[np.float64]

_STRUCK_S = 0.05
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
    `span` its samples.
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
        self.raw: Floats = trace.force_n[self.first : self.last] - self.zero
        length = max(1, round(_SMOOTH_S * trace.rate_hz)) | 1
        self.noise_n = trace.noise_n / length**0.5
        self.smooth: Floats = uniform_filter1d(self.raw, length) if length > 1 else self.raw
        width = max(3, round(_STRUCK_S * blocks.rate_hz)) | 1
        coarse = (
            blocks.force_n[self.first_block : last] - trace.rests.zero_n[self.first_block : last]
        )
        self.inner = slice(candidate.start - self.first_block, candidate.end - self.first_block)
        self.span = slice(candidate.start * size - self.first, candidate.end * size - self.first)
        self.freed: Floats = median_filter(coarse, width, mode="nearest")
        self.size = size
