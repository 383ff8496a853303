"""What happened to the meters of a trial, for a reader who knows nothing of the program.

Each event in three steps: what happened, what it means for the numbers, what was done. In the order
of the checks. Pure; any thread.
"""

from __future__ import annotations

from acquire.drift.foreseen import Block, blocks
from acquire.model import EndReason
from acquire.report.record.checkrecord import Anew, CheckRecord
from acquire.report.record.record import ReadingRecord, Standing, TrialRecord
from acquire.report.sections.blocked import blocked
from acquire.report.sections.checklife import first_checks
from acquire.report.sections.event import (
    Event,
    is_same_meter,
    later_check,
    read_again,
    sentence,
    verdict_of,
    with_minus,
)
from acquire.report.sections.readjusted import left_unchecked, readjusted
from acquire.report.words.wording import counted, moment, numbered, reason_alone

MOST = 60
"""More events than these nobody reads; every check is in its table all the same."""

# These ends are told by the check that brought them, or are the usual end of a pass.
_TOLD = {
    EndReason.SUPERSEDED.value,
    EndReason.FAILED_CHECK.value,
    EndReason.ADJUSTED.value,
    EndReason.EXPIRED.value,
    EndReason.SITTING_CLOSED.value,
}
_OUTCOMES = ("fail", "undecided")


def events(record: TrialRecord) -> tuple[Event, ...]:
    """All events in their order; nothing where every check passed and nothing ended early."""
    drifts: dict[int, list[Block]] = {}
    for seen in record.histories:
        for block in blocks(seen.history):
            drifts.setdefault(block.check_id, []).append(block)
    found: list[Event] = []
    begun = first_checks(record)
    cut_off = {r.id: r for r in record.readings if r.is_cut_off and r.standing is Standing.SUSPECT}
    for check in record.checks:
        first = begun.get((check.instrument, check.serial), 0)
        if check.id < first:
            # What was seen to before the first reading of the trial is no matter of its numbers.
            continue
        if check.adjustment is not None and check.id > first:
            own = [r for r in cut_off.values() if _is_before(record, r, check)]
            for r in own:
                del cut_off[r.id]
            found.append(readjusted(record, check, own))
        own = _closed_by(record, check)
        suspects = [r for r in own if r.standing is Standing.SUSPECT]
        if suspects or (check.outcome in _OUTCOMES and not check.is_abandoned):
            found.append(blocked(record, check, drifts.get(check.id, ()), own, suspects))
        if check.anew is not None and _is_worse(check, check.anew):
            found.append(_judged_anew(record, check, check.anew))
        later = later_check(record, check)
        # What ended after the last check of a meter, its work was over: the daemon was stopped.
        if later is not None and check.end_reason and check.end_reason not in _TOLD:
            found.append(_ended(check, later))
    found += left_unchecked(record, list(cut_off.values()))
    return tuple(sorted(found, key=lambda e: e.place))


def _is_before(record: TrialRecord, reading: ReadingRecord, check: CheckRecord) -> bool:
    """Whether a reading was taken with the meter of a check, under one before it."""
    own = record.check(reading.check_id)
    return own is not None and own.id < check.id and is_same_meter(own, check)


def _closed_by(record: TrialRecord, check: CheckRecord) -> list[ReadingRecord]:
    """What a check confirmed or made suspect, as it was judged then."""
    return [
        r for r in record.readings if r.closing_check_id == check.id and r.reassessment_id is None
    ]


def _is_worse(check: CheckRecord, anew: Anew) -> bool:
    """Whether a check came to something worse when it was judged anew."""
    if check.outcome == "undecided":
        return anew.outcome == "fail"
    return check.outcome == "pass" and anew.outcome != "pass"


def _judged_anew(record: TrialRecord, check: CheckRecord, anew: Anew) -> Event:
    suspects = [
        r
        for r in record.readings
        if r.reassessment_id is not None
        and r.standing is Standing.SUSPECT
        and record.doubted(r.check_id, r.closing_check_id) is check
    ]
    one = len(suspects) == 1
    title = f"A certificate of check {check.id} of {check.instrument} was withdrawn"
    if suspects:
        title += f", and {counted(len(suspects), 'reading')} became suspect"
    return Event(
        (check.id, 4),
        moment(anew.at_utc_ns),
        title,
        with_minus(" ".join(sentence(text) for text in check.withdrawn)),
        "What the bench held its meter against was wrong by its own account. The check was judged "
        "anew from the same readings by what stands now, and does not pass. "
        + (
            f"{counted(len(suspects), 'reading')} (number {numbered([r.id for r in suspects])}) "
            f"{'is' if one else 'are'} left out of every figure of this page."
            if suspects
            else "No reading that would count rests on it."
        ),
        read_again(record, suspects) if suspects else "Nothing has to be done.",
    )


def _ended(check: CheckRecord, later: CheckRecord) -> Event:
    return Event(
        (later.id, 0),
        moment(check.ended_utc_ns or check.begun_utc_ns),
        f"The pass of check {check.id} of {check.instrument} ended early: {check.end_reason}",
        sentence(reason_alone(check.end_message)),
        "What was read until then keeps its check; nothing that came later counts under it.",
        f"{check.instrument} was checked again: check {later.id} {verdict_of(later)}.",
    )
