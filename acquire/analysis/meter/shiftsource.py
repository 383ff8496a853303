"""Where the known shifts of a result come from, as the subject of a sentence. Pure; any thread."""

from __future__ import annotations

from collections.abc import Sequence

from acquire.analysis.budget.uncertainty import Bias
from acquire.analysis.cells.contrast import Share
from acquire.analysis.meter.metergain import BEND, GAIN
from acquire.analysis.meter.onepiece import if_of_one

BY_CHECKS = ", as found by the checks,"
STEADY = "steady drift of the meter"
A_DRIFT = f"a steady drift of the meter{BY_CHECKS}"


def source_of(
    *, is_offset_in: bool, is_gain_in: bool, biases: Sequence[Bias], shares: Sequence[Share]
) -> str:
    """What the known shifts are, as the subject of a sentence."""
    how = if_of_one(
        [s.bracket for s in shares if s.bracket is not None],
        is_by_offset=not is_gain_in,
        is_of_both=any([s.standing for s in shares]),
    )
    if not is_gain_in:
        return (
            f"offset and steady drift of the meter{how or BY_CHECKS}" if is_offset_in else A_DRIFT
        )
    is_drifting = any([b.found and b.name.startswith(STEADY) for b in biases])
    is_bent = any([b.found and b.name.startswith(BEND) for b in biases])
    is_gaining = not is_bent or any([b.found and b.name.startswith(GAIN) for b in biases])
    parts = ["offset"] * is_offset_in + ["gain"] * is_gaining
    parts += ["bend"] * is_bent + ["steady drift"] * is_drifting
    said = " and ".join([*([", ".join(parts[:-1])] if parts[1:] else []), parts[-1]])
    return f"{said} of the meter{how or BY_CHECKS}"
