"""From when to when a check let readings count, in words, and where a trial begins. Pure."""

from __future__ import annotations

from acquire.report.record.checkrecord import CheckRecord
from acquire.report.record.record import TrialRecord
from acquire.report.words.wording import counted, moment, reason_alone
from acquire.units import symbol


def first_checks(record: TrialRecord) -> dict[tuple[str, str], int]:
    """The check that covers the first reading of the trial, by meter; none without a reading."""
    found: dict[tuple[str, str], int] = {}
    for r in record.readings:
        if r.check_id is not None:
            meter = (r.instrument, r.serial)
            found[meter] = min(r.check_id, found.get(meter, r.check_id))
    return found


def life(check: CheckRecord, *, is_before: bool) -> str:
    """What a check covered and what ended that; `is_before` the trial's first reading."""
    if check.judged_utc_ns is None:
        return "It was not finished when this page was made."
    if check.outcome != "pass" or check.expires_utc_ns is None:
        if is_before:
            return "It came before the first reading of this trial, and nothing here rests on it."
        return "No reading rests on it: readings count only under a passed check."
    if check.ended_utc_ns is None:
        return _covers(check) + (
            f"Covers readings from {moment(check.judged_utc_ns)} on, at the longest until "
            f"{moment(check.expires_utc_ns)}; it had not ended when this page was made."
        )
    return _covers(check) + (
        f"Covered readings from {moment(check.judged_utc_ns)} until {moment(check.ended_utc_ns)}. "
        f"It ended ({check.end_reason}): {reason_alone(check.end_message)}."
    )


def _covers(check: CheckRecord) -> str:
    """What a pass is bound to beyond its time, where its policy says so."""
    bounds = []
    if check.presses is not None:
        bounds.append(f"at most {counted(check.presses, 'press', 'presses')}")
    if check.span is not None:
        bounds.append(f"values from {check.span[0]:g} to {check.span[1]:g} {symbol(check.unit)}")
    return f"Good for {' and '.join(bounds)}. ".replace("-", "−") if bounds else ""
