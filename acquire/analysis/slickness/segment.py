"""Every pull of a continuous trace, and every rise of the force that is none, with the reason.

    noise -> rests -> zero -> candidates -> each judged -> dwell from one to the next

Pure and deterministic; any thread. A million samples take a fraction of a second.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from acquire.analysis.slickness.candidates import candidates_of
from acquire.analysis.slickness.cut import Trace
from acquire.analysis.slickness.judging import judge
from acquire.analysis.slickness.pull import Pull, Rejected, Segmented
from acquire.analysis.slickness.rests import blocks_of, noise_of, rests_of
from acquire.analysis.slickness.rules import HIGHEST_RATE_HZ, LOWEST_RATE_HZ, Rules

_LARGEST_N = 1e9
_SHORTEST_S = 1.0


def segment(force_n: ArrayLike, rate_hz: float, rules: Rules) -> Segmented:
    """Find the pulls in a trace of forces in newton, `rate_hz` of them a second, without gaps.

    One dimension, any number of samples. A trace with samples missing is several traces. Raises
    ValueError for a rate outside 10 to 10,000 a second and for values that are not finite. What
    can be read and tells nothing is no error: `refusal` says why.
    """
    force = _checked(force_n)
    if not LOWEST_RATE_HZ <= rate_hz <= HIGHEST_RATE_HZ:
        raise ValueError(
            f"{LOWEST_RATE_HZ:g} to {HIGHEST_RATE_HZ:g} samples a second are wanted, got {rate_hz}"
        )
    noise = noise_of(force, rate_hz)
    if force.size < _SHORTEST_S * rate_hz:
        return _refused(
            force.size, rate_hz, noise,
            f"The trace has {force.size} samples, less than {_SHORTEST_S:g} s: record from before "
            "the pull until the line is slack again.",
        )  # fmt: skip
    blocks = blocks_of(force, rate_hz, noise)
    rests = rests_of(blocks, rules)
    if not rests.slack:
        return _refused(
            force.size, rate_hz, noise,
            "The force never stood still for 0.4 s, so its zero is not known: leave the line slack "
            "for a second before each pull.",
        )  # fmt: skip
    trace = Trace(force, rate_hz, noise, blocks, rests, rules)
    pulls: list[Pull] = []
    rejected: list[Rejected] = []
    still_since: float | None = None
    for candidate in candidates_of(blocks, rests, rules):
        judged = judge(trace, candidate, still_since)
        if isinstance(judged, Pull):
            pulls.append(judged)
            still_since = judged.slid_until_s
        else:
            rejected.append(judged)
            still_since = judged.end_s if judged.moved else still_since
    return Segmented(rate_hz, force.size, noise, tuple(pulls), tuple(rejected))


def _checked(force_n: ArrayLike) -> NDArray[np.float64]:
    force = np.asarray(force_n, dtype=np.float64)
    if force.ndim != 1:
        raise ValueError(f"one force after another is wanted, got an array of {force.ndim} axes")
    # The sum is finite only where every sample is: one pass, and no array of truths.
    if force.size and not np.isfinite(force.sum()):
        bad = np.flatnonzero(~np.isfinite(force))
        where = f"sample {int(bad[0])} is {force[bad[0]]}" if bad.size else "too large a force"
        raise ValueError(f"finite forces are wanted, {where}: cut the trace there")
    if force.size and max(float(force.max()), -float(force.min())) > _LARGEST_N:
        raise ValueError(f"forces up to {_LARGEST_N:g} N are wanted, got {force.max():g} N")
    return force


def _refused(samples: int, rate_hz: float, noise_n: float, why: str) -> Segmented:
    return Segmented(rate_hz, samples, noise_n, (), (), why)
