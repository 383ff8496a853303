"""The act `drift` of every device: off from now on, or by a little more at each press."""

from __future__ import annotations

from collections.abc import Iterable

from simulators.arguments import Arguments
from simulators.gloss.drift import Drift


def drift_by(args: Arguments, drifts: Iterable[Drift]) -> None:
    """Let all of them drift as the arguments say. Raises ActFault where these say nothing."""
    if not args.has("gain") and not args.has("offset"):
        raise args.fault("gain", "a gain, an offset or both")
    gain = args.number("gain", 0.2, 5, 1.0)
    offset = args.number("offset", -50, 50, 0.0)
    per_press = args.flag("per_press", False)
    args.finish()
    for drift in drifts:
        if per_press:
            drift.gain_per_press, drift.offset_per_press = gain, offset
        else:
            drift.shift(gain, offset)
