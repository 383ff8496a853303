"""Re-adjustments of a meter, with a check as found and without: what they mean. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from acquire.report.record.checkrecord import CheckRecord
from acquire.report.record.record import ReadingRecord, TrialRecord
from acquire.report.sections.event import (
    Event,
    read_again,
    verdict_of,
    with_minus,
)
from acquire.report.words.wording import counted, listed, moment, numbered


def readjusted(record: TrialRecord, check: CheckRecord, suspects: Sequence[ReadingRecord]) -> Event:
    seen = check.adjustment
    assert seen is not None, "asked before"
    title = f"{check.instrument} was re-adjusted, and check {check.id} {verdict_of(check)}"
    means = (
        "Readings before and after it do not share a check: what was found tells how far off the "
        "meter was at the end of the time before, what was left where the time after begins. "
    )
    done = (
        "Readings count again from the check that passed."
        if check.outcome == "pass"
        else "Readings count again only from a later check that passes."
    )
    if suspects:
        title += f"; {counted(len(suspects), 'earlier reading')} became suspect"
        means = _not_as_found(suspects)
        done += f" {read_again(record, suspects)}"
    else:
        means += "Nothing that was read before is changed by it."
    return Event(
        (check.id, 1),
        moment(check.begun_utc_ns),
        title,
        with_minus(
            "The meter's own adjustment was used, which shifts all that it reads from then on. "
            + (
                f"Nobody read it as it was found; deviations at check {seen.found_by}, before "
                "readings were taken: "
                if seen.was_used
                else f"Deviations as found (check {seen.found_by}, the last one before): "
            )
            + f"{seen.as_found}; "
            f"as left (check {check.id}, the first one after): {seen.as_left}."
        ),
        means,
        done,
    )


def _not_as_found(suspects: Sequence[ReadingRecord]) -> str:
    """What a re-adjustment without a check as found means for readings before it."""
    one = len(suspects) == 1
    opening = listed([f"check {i}" for i in sorted({r.check_id or 0 for r in suspects})])
    return (
        "No check had read the meter as it was found, after these readings and before the "
        "re-adjustment. So nobody knows how it read by then, and no later check can tell: "
        f"{counted(len(suspects), 'reading')} (number {numbered([r.id for r in suspects])}), taken "
        f"since {opening} passed, {'is' if one else 'are'} left out of every figure of this page."
    )


def left_unchecked(record: TrialRecord, suspects: Sequence[ReadingRecord]) -> Iterator[Event]:
    """Re-adjustments that no check with figures came after: told by the check before them."""
    by_check: dict[int, list[ReadingRecord]] = {}
    for r in suspects:
        by_check.setdefault(r.check_id or 0, []).append(r)
    for check_id, own in by_check.items():
        name = own[0].instrument
        check = record.check(check_id)
        ended = check.ended_utc_ns if check is not None else None
        yield Event(
            (check_id, 3),
            moment(own[-1].at_utc_ns if ended is None else ended),
            f"{name} was re-adjusted, and {counted(len(own), 'earlier reading')} became suspect",
            "The meter's own adjustment was used, which shifts all that it reads from then on.",
            _not_as_found(own),
            f"{name} has not been checked in full since. {read_again(record, own)}",
        )
