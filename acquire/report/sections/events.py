"""What happened to the meters of a trial, for a reader who knows nothing of the program.

Each event in three steps: what happened, what it means for the numbers, what was done. In the order
of the checks. Pure; any thread.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from acquire.drift.foreseen import Block, blocks, foresight
from acquire.model import EndReason
from acquire.report.checkrecord import Anew, CheckRecord
from acquire.report.outsidethen import outside_then
from acquire.report.record import ReadingRecord, Standing, TrialRecord
from acquire.report.sections.checklife import first_checks
from acquire.report.sections.checks import MEANINGS
from acquire.report.wording import counted, listed, moment, numbered, reason_alone

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
_PASSED = (
    "Readings from this check on count. Those before it are held to the certified values and "
    "limits of the check that they were taken under, whatever a policy or a certificate says since."
)


_ANOTHER = (
    "The readings were taken under another serial number, so by this check they are neither "
    "confirmed nor made suspect. Where a meter cannot be asked for its number, it is what somebody "
    "entered: if it was the same meter all the time, this check says what it was like in between."
)


class Event(NamedTuple):
    """One event; `place` orders it: by a check, and before or with that."""

    place: tuple[int, int]
    when: str
    title: str
    happened: str
    means: str
    done: str


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
            found.append(_readjusted(record, check, own))
        own = _closed_by(record, check)
        suspects = [r for r in own if r.standing is Standing.SUSPECT]
        if suspects or (check.outcome in _OUTCOMES and not check.is_abandoned):
            found.append(_blocked(record, check, drifts.get(check.id, ()), own, suspects))
        if check.anew is not None and _is_worse(check, check.anew):
            found.append(_judged_anew(record, check, check.anew))
        later = _later(record, check)
        # What ended after the last check of a meter, its work was over: the daemon was stopped.
        if later is not None and check.end_reason and check.end_reason not in _TOLD:
            found.append(_ended(check, later))
    found += _left_unchecked(record, list(cut_off.values()))
    return tuple(sorted(found, key=lambda e: e.place))


def _is_before(record: TrialRecord, reading: ReadingRecord, check: CheckRecord) -> bool:
    """Whether a reading was taken with the meter of a check, under one before it."""
    own = record.check(reading.check_id)
    return own is not None and own.id < check.id and _is_same(own, check)


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


def _blocked(
    record: TrialRecord,
    check: CheckRecord,
    drifts: Sequence[Block],
    own: Sequence[ReadingRecord],
    suspects: Sequence[ReadingRecord],
) -> Event:
    """A check that stopped the work, or by which readings are left out, whatever it came to."""
    is_other = _is_of_another(record, check)
    whose = f", under the serial number {check.serial}," if is_other else ""
    title = f"Check {check.id} of {check.instrument}{whose} {_came_to(check)}"
    if suspects:
        title += f", and {counted(len(suspects), 'earlier reading')} became suspect"
    told = [_sentence(check.message)]
    if suspects and check.outcome != "fail":
        openings = (record.check(i) for i in sorted({r.check_id or 0 for r in suspects}))
        told += outside_then(check, filter(None, openings))
    told.append(_foreseen(_of_failed(check, drifts)))
    return Event(
        (check.id, 2),
        moment(check.judged_utc_ns or check.begun_utc_ns),
        title,
        _minus(" ".join(filter(None, told))),
        _ANOTHER if is_other else " ".join(_means(record, check, own, suspects)),
        _next(record, check),
    )


def _is_of_another(record: TrialRecord, check: CheckRecord) -> bool:
    """Whether nothing of the trial was read under the serial number of a check."""
    used = {(one.instrument, one.serial) for one in record.instruments}
    return (check.instrument, check.serial) not in used


def _came_to(check: CheckRecord) -> str:
    if check.is_abandoned:
        return "was broken off"
    return {"fail": "failed", "undecided": "was undecided"}.get(
        check.outcome, "passed by its own limits"
    )


def _of_failed(check: CheckRecord, drifts: Sequence[Block]) -> list[Block]:
    """Those of the pieces that the check did not pass; a piece that passed was no block."""
    passed = {(p.piece, p.channel) for p in check.pieces if p.outcome == "pass"}
    return [d for d in drifts if (d.history.key.piece, d.history.key.channel) not in passed]


def _foreseen(drifts: Sequence[Block]) -> str:
    """Whether the pieces were seen coming there; those of which the same is said, together."""
    told: dict[str, list[str]] = {}
    for block in drifts:
        told.setdefault(foresight(block), []).append(block.history.place)
    said = " ".join(_sentence(f"with {listed(places)} {words}") for words, places in told.items())
    return said and f"Was that seen coming? {said}"


def _means(
    record: TrialRecord,
    check: CheckRecord,
    own: Sequence[ReadingRecord],
    suspects: Sequence[ReadingRecord],
) -> Iterator[str]:
    yield MEANINGS.get(check.outcome, _PASSED)
    if suspects:
        opening = listed([f"check {i}" for i in sorted({r.check_id or 0 for r in suspects})])
        runs = listed([f"run {i}" for i in sorted({r.run_id or 0 for r in suspects})])
        yield (
            f"{counted(len(suspects), 'reading')} of {runs} (number "
            f"{numbered([r.id for r in suspects])}), taken since {opening} passed, "
            f"{'is' if len(suspects) == 1 else 'are'} left out of every figure of this page: "
            "somewhere between the two checks the meter went off, and nobody knows when."
        )
    elif not own and not any(r.closing_check_id == check.id for r in record.readings):
        yield _unconfirmed(record, check)
    loose = _loose(record, check)
    if loose:
        yield (
            f"{counted(len(loose), 'reading')} (number {numbered([r.id for r in loose])}) came "
            f"from {check.instrument} all the same before it passed again; "
            f"{'it is' if len(loose) == 1 else 'they are'} kept and "
            f"{'counts' if len(loose) == 1 else 'count'} for nothing."
        )


def _unconfirmed(record: TrialRecord, check: CheckRecord) -> str:
    """What was read since the last pass, where this check says nothing of it."""
    before = [c for c in record.checks if c.id < check.id and _is_same(c, check)]
    opening = next((c for c in reversed(before) if c.outcome == "pass"), None)
    since = [r for r in record.readings if opening is not None and r.check_id == opening.id]
    if opening is None or not since:
        return "No reading of this trial had been taken since the last check that passed."
    one = len(since) == 1
    return (
        f"{counted(len(since), 'reading')} taken since check {opening.id} passed "
        f"{'is' if one else 'are'} neither confirmed nor made suspect by it: that a later check "
        "does, if the meter is not re-adjusted before."
    )


def _is_same(one: CheckRecord, other: CheckRecord) -> bool:
    return (one.instrument, one.serial) == (other.instrument, other.serial)


def _loose(record: TrialRecord, check: CheckRecord) -> list[ReadingRecord]:
    """What came under this check, until the next one of the meter began."""
    later = _later(record, check)
    since = check.judged_utc_ns or check.begun_utc_ns
    return [
        r
        for r in record.loose
        if (r.instrument, r.serial) == (check.instrument, check.serial)
        and since <= r.at_utc_ns
        and (later is None or r.at_utc_ns <= later.begun_utc_ns)
    ]


def _later(record: TrialRecord, check: CheckRecord) -> CheckRecord | None:
    return next((c for c in record.checks if c.id > check.id and _is_same(c, check)), None)


def _next(record: TrialRecord, check: CheckRecord) -> str:
    """What followed: the next check, a re-adjustment before it, places read again."""
    later = _later(record, check)
    if later is None:
        told = f"{check.instrument} has not been checked again in the sittings of this trial."
    else:
        before = "re-adjusted and " if later.adjustment is not None else ""
        told = (
            f"{check.instrument} was {before}checked again at {moment(later.begun_utc_ns)}: check "
            f"{later.id} {_verdict(later)}."
        )
    suspects = [
        r
        for r in record.readings
        if r.closing_check_id == check.id and r.standing is Standing.SUSPECT
    ]
    return f"{told} {_again(record, suspects)}" if suspects else told


def _verdict(check: CheckRecord) -> str:
    if check.is_abandoned:
        return "was abandoned"
    words = {"pass": "passed", "fail": "failed", "undecided": "was undecided"}
    return words.get(check.outcome, "has not been finished")


def _again(record: TrialRecord, suspects: Sequence[ReadingRecord]) -> str:
    """Whether the places of readings that became suspect have readings that count now."""
    places = {_place(r) for r in suspects}
    last = max(r.id for r in suspects)
    again = [
        r
        for r in record.readings
        if r.standing is Standing.COUNTS and r.id > last and _place(r) in places
    ]
    if not again:
        return "Their places have not been read again."
    filled = len({_place(r) for r in again})
    runs = listed([f"run {i}" for i in sorted({r.run_id or 0 for r in again})])
    which = "all of their places were" if filled == len(places) else (
        f"{filled} of their {len(places)} places {'was' if filled == 1 else 'were'}"
    )  # fmt: skip
    return f"Then {which} read again in {runs}, and the results rest on those readings."


def _place(r: ReadingRecord) -> tuple[str, str, str, int, str]:
    return (r.measure, r.zone, r.stage, r.replicate, r.channel)


def _readjusted(
    record: TrialRecord, check: CheckRecord, suspects: Sequence[ReadingRecord]
) -> Event:
    seen = check.adjustment
    assert seen is not None, "asked before"
    title = f"{check.instrument} was re-adjusted, and check {check.id} {_verdict(check)}"
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
        done += f" {_again(record, suspects)}"
    else:
        means += "Nothing that was read before is changed by it."
    return Event(
        (check.id, 1),
        moment(check.begun_utc_ns),
        title,
        _minus(
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
        _minus(" ".join(_sentence(text) for text in check.withdrawn)),
        "What the bench held its meter against was wrong by its own account. The check was judged "
        "anew from the same readings by what stands now, and does not pass. "
        + (
            f"{counted(len(suspects), 'reading')} (number {numbered([r.id for r in suspects])}) "
            f"{'is' if one else 'are'} left out of every figure of this page."
            if suspects
            else "No reading that would count rests on it."
        ),
        _again(record, suspects) if suspects else "Nothing has to be done.",
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


def _left_unchecked(record: TrialRecord, suspects: Sequence[ReadingRecord]) -> Iterator[Event]:
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
            f"{name} has not been checked in full since. {_again(record, own)}",
        )


def _ended(check: CheckRecord, later: CheckRecord) -> Event:
    return Event(
        (later.id, 0),
        moment(check.ended_utc_ns or check.begun_utc_ns),
        f"The pass of check {check.id} of {check.instrument} ended early: {check.end_reason}",
        _sentence(reason_alone(check.end_message)),
        "What was read until then keeps its check; nothing that came later counts under it.",
        f"{check.instrument} was checked again: check {later.id} {_verdict(later)}.",
    )


def _minus(text: str) -> str:
    """Figures with a proper minus sign; dates keep their hyphens."""
    return re.sub(r"(?<!\w)-(?=\d)", "−", text)


def _sentence(text: str) -> str:
    return text and f"{text[0].upper()}{text[1:].removesuffix('.')}."
