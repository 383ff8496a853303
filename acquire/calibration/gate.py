"""The gate: one pure function that says whether a reading is covered by a valid pass.

It has one caller, the desk, and every way in passes it: a run's start, a reading at its arrival,
a loose reading that a person assigns later. There is no argument that opens it. What is asked of
equipment between calibrations: intermediate checks by a rule, and nothing that is outside of it in
use (ISO/IEC 17025:2017, 6.4.9 and 6.4.10, from memory).
"""

from __future__ import annotations

from decimal import Decimal
from typing import NamedTuple

from acquire.model import (
    Ending,
    EndReason,
    GateVerdict,
    Instant,
    Judgement,
    Outcome,
    Pass,
    channel_labels,
    iso_utc,
)
from acquire.model.verdict import ABANDONED


class Request(NamedTuple):
    """What wants to pass: an instrument's readings of these channels at this moment.

    `value` is that of a reading, None for a run that is to begin. `used` is how many presses have
    been taken under the pass before this one.
    """

    instrument: str
    serial: str
    channels: frozenset[str]
    at: Instant
    value: Decimal | None = None
    used: int = 0


def gate(
    request: Request, current: Pass | None, ending: Ending | None, last: Judgement | None
) -> GateVerdict:
    """Say whether `request` is covered by `current`, a pass that `ending` may have ended.

    `last` is the latest judgement of the instrument's checks, used only to say why there is no
    pass. A pass expires by whichever of the two clocks comes first; one of an earlier life of the
    daemon has no end on the monotonic clock. A pass covers the half-open time from its opening to
    its end.
    """
    again = f"coatbench check {request.instrument}"
    if current is None:
        return _no_pass(request, ending, last, again)
    if current.instrument != request.instrument or current.serial != request.serial:
        return GateVerdict(
            None,
            "other instrument",
            f"the check is of {current.instrument} serial {current.serial}, "
            f"not of {request.instrument} serial {request.serial}",
            again,
        )
    missing = request.channels - current.channels
    if missing:
        return GateVerdict(
            None,
            "channel",
            f"the check covers {_named(current.channels)}, not {_named(missing)}",
            f"{again} with a policy for {_named(missing)}",
        )
    if ending is not None and request.at.utc_ns >= ending.at.utc_ns:
        return GateVerdict(None, str(ending.reason), ending.message, again)
    if request.at.utc_ns < current.opened.utc_ns:
        return GateVerdict(
            None,
            "before the check",
            f"the check passed only at {iso_utc(current.opened.utc_ns)}",
            again,
        )
    if request.at.utc_ns >= current.expires.utc_ns or request.at.mono_ns >= current.expires.mono_ns:
        return GateVerdict(
            None, "expired", f"the check ended at {iso_utc(current.expires.utc_ns)}", again
        )
    if current.presses is not None and request.used >= current.presses:
        return GateVerdict(
            None,
            str(EndReason.USED_UP),
            f"the check lasts {current.presses} presses, and {request.used} were taken",
            again,
        )
    if request.value is not None and current.span is not None:
        low, high = current.span
        if not low <= request.value <= high:
            return GateVerdict(
                None,
                "range",
                f"{request.value} is outside of the range {low} to {high} that the check covers",
                "measure in that range, or with an instrument whose policy covers the value",
            )
    return GateVerdict(current.check_id)


def _no_pass(
    request: Request, ending: Ending | None, last: Judgement | None, again: str
) -> GateVerdict:
    is_abandoned = last is not None and last.message.startswith(ABANDONED)
    if last is not None and last.outcome is Outcome.UNDECIDED and is_abandoned:
        return GateVerdict(
            None,
            f"check {last.outcome}",
            f"the last check of {request.instrument} was broken off: "
            f"{last.message.removeprefix(ABANDONED)}",
            last.next_step,
        )
    if last is not None and last.outcome is not Outcome.PASS:
        word = "failed" if last.outcome is Outcome.FAIL else "was undecided"
        return GateVerdict(
            None,
            f"check {last.outcome}",
            f"the last check of {request.instrument} {word}: {last.message}",
            last.next_step,
        )
    if ending is not None:
        return GateVerdict(None, str(ending.reason), ending.message, again)
    return GateVerdict(None, "no check", f"{request.instrument} has not been checked", again)


def _named(channels: frozenset[str]) -> str:
    return channel_labels(sorted(channels)) or "nothing"
