"""Checks that stopped the work, or by which readings are left out: what they mean. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from acquire.drift.foreseen import Block, foresight
from acquire.report.evidence.outsidethen import outside_then
from acquire.report.record.checkrecord import CheckRecord
from acquire.report.record.record import ReadingRecord, Standing, TrialRecord
from acquire.report.sections.checks import MEANINGS
from acquire.report.sections.event import (
    Event,
    is_same_meter,
    later_check,
    read_again,
    sentence,
    verdict_of,
    with_minus,
)
from acquire.report.words.wording import counted, listed, moment, numbered

_PASSED = (
    "Readings from this check on count. Those before it are held to the certified values and "
    "limits of the check that they were taken under, whatever a policy or a certificate says since."
)
_ANOTHER = (
    "The readings were taken under another serial number, so by this check they are neither "
    "confirmed nor made suspect. Where a meter cannot be asked for its number, it is what somebody "
    "entered: if it was the same meter all the time, this check says what it was like in between."
)


def blocked(
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
    told = [sentence(check.message)]
    if suspects and check.outcome != "fail":
        openings = (record.check(i) for i in sorted({r.check_id or 0 for r in suspects}))
        told += outside_then(check, filter(None, openings))
    told.append(_foreseen(_of_failed(check, drifts)))
    return Event(
        (check.id, 2),
        moment(check.judged_utc_ns or check.begun_utc_ns),
        title,
        with_minus(" ".join(filter(None, told))),
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
    said = " ".join(sentence(f"with {listed(places)} {words}") for words, places in told.items())
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
    before = [c for c in record.checks if c.id < check.id and is_same_meter(c, check)]
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


def _loose(record: TrialRecord, check: CheckRecord) -> list[ReadingRecord]:
    """What came under this check, until the next one of the meter began."""
    later = later_check(record, check)
    since = check.judged_utc_ns or check.begun_utc_ns
    return [
        r
        for r in record.loose
        if (r.instrument, r.serial) == (check.instrument, check.serial)
        and since <= r.at_utc_ns
        and (later is None or r.at_utc_ns <= later.begun_utc_ns)
    ]


def _next(record: TrialRecord, check: CheckRecord) -> str:
    """What followed: the next check, a re-adjustment before it, places read again."""
    later = later_check(record, check)
    if later is None:
        told = f"{check.instrument} has not been checked again in the sittings of this trial."
    else:
        before = "re-adjusted and " if later.adjustment is not None else ""
        told = (
            f"{check.instrument} was {before}checked again at {moment(later.begun_utc_ns)}: check "
            f"{later.id} {verdict_of(later)}."
        )
    suspects = [
        r
        for r in record.readings
        if r.closing_check_id == check.id and r.standing is Standing.SUSPECT
    ]
    return f"{told} {read_again(record, suspects)}" if suspects else told
