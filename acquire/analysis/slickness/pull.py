"""What a trace tells of one pull, and of one candidate that is none. Facts only; no behaviour.

Forces in newton above the zero, times in seconds from the first sample of the trace.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Why(StrEnum):
    """Why a rise of the force is no pull."""

    SMALL = "too small"
    KNOCK = "a knock"
    HELD = "not broken free"
    SHORT = "let go too soon"
    SATURATED = "over the range"
    CUT = "not whole"
    NARROW = "window not reached"


@dataclass(frozen=True, slots=True)
class Steady:
    """The steady window: `samples` forces from `start_s` to `end_s`.

    `sd_n` (n - 1) and `peak_to_peak_n` (largest less smallest) hold slips, texture and noise
    together; None for `sd_n` where there is a single sample. `slips` says whether the scatter is
    more than three times the noise of the gauge.
    """

    start_s: float
    end_s: float
    samples: int
    mean_n: float
    sd_n: float | None
    peak_to_peak_n: float
    slips: bool


@dataclass(frozen=True, slots=True)
class Pull:
    """One pull. `start` and `end` are places of samples in the trace, the second behind the last.

    `zero_n` was subtracted: what the gauge read with the line slack, interpolated to the peak, and
    `u_zero_n` its standard uncertainty by noise, and by what it moved from before to after.
    `peak_n` is the breakaway peak at `peak_s`, `u_peak_n` its standard uncertainty by noise and
    sampling, and `between_n` what of it lies above the force at any sample, None where too few are
    on the rise to tell, so that it may lie higher; `peak_sample_n` is the largest sample there,
    `largest_n` the largest of the whole pull.
    `dwell_s` is how long the sled had not moved at `onset_s`, None where the trace does not say;
    `loading_s` is from there to the peak, in which it still stands. `remarks` are sentences.
    """

    start: int
    end: int
    zero_n: float
    u_zero_n: float
    onset_s: float
    peak_s: float
    peak_n: float
    u_peak_n: float
    between_n: float | None
    peak_sample_n: float
    largest_n: float
    steady: Steady
    slid_until_s: float
    dwell_s: float | None
    remarks: tuple[str, ...] = ()

    @property
    def loading_s(self) -> float:
        return max(0.0, self.peak_s - self.onset_s)

    @property
    def contact_s(self) -> float | None:
        """Since the sled stood still, up to the breakaway: what static friction grows with."""
        return None if self.dwell_s is None else self.dwell_s + self.loading_s


@dataclass(frozen=True, slots=True)
class Rejected:
    """A rise of the force that is no pull, from `start_s` to `end_s`, up to `largest_n`.

    `because` is a sentence. `moved` says whether the sled may have moved, so that the dwell before
    the next pull begins here.
    """

    start_s: float
    end_s: float
    largest_n: float
    why: Why
    because: str
    moved: bool


@dataclass(frozen=True, slots=True)
class Segmented:
    """A whole trace: `pulls` and `rejected` in order of time, `noise_n` of single samples.

    `refusal` says why nothing could be told at all; empty where it could.
    """

    rate_hz: float
    samples: int
    noise_n: float
    pulls: tuple[Pull, ...]
    rejected: tuple[Rejected, ...]
    refusal: str = ""
