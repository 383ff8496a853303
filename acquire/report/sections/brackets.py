"""Which checks lie around a figure: number, moment and outcome of both. Pure; any thread."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from operator import attrgetter

from acquire.report.evidence.between import between_words
from acquire.report.evidence.evidence import Evidence
from acquire.report.record.checkrecord import CheckRecord
from acquire.report.record.record import ReadingRecord, TrialRecord
from acquire.report.words.wording import limits_words, moment, without_words

_AROUND = attrgetter("bracket", "check_id", "closing_check_id")
_OUTCOMES = {"pass": "passed", "fail": "failed", "undecided": "undecided"}


def bracket_words(record: TrialRecord, state: str, opening: int | None, closing: int | None) -> str:
    """``check 1, passed 2026-05-04 08:00:04; closed by check 2, passed 2026-05-04 08:00:21``.

    `state` is that of the store's view `brackets`, or ``unchecked``.
    """
    if state == "unchecked":
        return "no check: the trial was planned so"
    begun = _check(record.check(opening), opening)
    later = _check(record.check(closing), closing)
    between = between_words(record, opening, closing)
    doubted = record.doubted(opening, closing)
    return {
        "bracketed": f"{begun}; closed by {later}",
        "suspect": f"{begun}; suspect, because {without(doubted)}"
        if doubted is not None
        else f"{begun}; suspect, because the meter was outside "
        f"{outside(record, opening, closing)} at {later}"
        if closing is not None
        else f"{begun}; suspect, because the meter was re-adjusted with no check as found before",
        "not closed": f"{begun}; not closed: re-adjusted before a check decided",
        "open": f"{begun}; not closed by a later check yet",
    }[state] + (f"; between: {between}" if between else "")


def without(check: CheckRecord) -> str:
    """Why a check that was judged anew opens or closes nothing."""
    return without_words(check.id)


def outside(record: TrialRecord, opening: int | None, closing: int | None) -> str:
    """Which limits the later check found the meter outside of, where it made readings suspect."""
    later = record.check(closing)
    return limits_words(None if later is None or later.outcome == "fail" else opening)


def bracket_of_reading(record: TrialRecord, reading: ReadingRecord) -> str:
    """The checks around one reading."""
    return bracket_words(record, reading.bracket, reading.check_id, reading.closing_check_id)


def rests_on(record: TrialRecord, readings: Iterable[ReadingRecord]) -> str:
    """The checks around all of these readings; with their shares where they have several pairs.

    Where both checks passed and nothing lay between, their numbers say it all: ``checks 1 and 2,
    both passed``.
    """
    found = Counter(map(_AROUND, readings))
    total = found.total()
    return ". ".join(
        (f"{number} of {total}: " if len(found) > 1 else "") + _brief(record, *key)
        for key, number in found.items()
    )


def _brief(record: TrialRecord, state: str, opening: int | None, closing: int | None) -> str:
    around = [record.check(opening), record.check(closing)]
    if (
        state != "bracketed"
        or any(check is None or check.outcome != "pass" for check in around)
        or any(check is not None and check.withdrawn for check in around)
        or between_words(record, opening, closing)
    ):
        return bracket_words(record, state, opening, closing)
    return f"checks {opening} and {closing}, both passed"


def zone_bracket(record: TrialRecord, evidence: Evidence, zone: str, stage: str) -> str:
    """The checks around the readings of a zone at a stage that count."""
    return rests_on(record, evidence.counting([zone], stage))


def treatment_bracket(
    record: TrialRecord, evidence: Evidence, zones: Sequence[str], stage: str
) -> str:
    """The checks around what a net change is taken from: its zones, bare and at the stage."""
    bare = evidence.result.bare
    return ". ".join(
        f"{at}: {rests_on(record, evidence.counting(zones, at))}" for at in (bare, stage)
    )


def _check(check: CheckRecord | None, number: int | None) -> str:
    if check is None:
        return f"check {number}"
    at = check.judged_utc_ns
    outcome = _OUTCOMES.get(check.outcome, check.outcome)
    gone = " by a certificate withdrawn since" if check.withdrawn else ""
    return f"check {check.id}, {outcome}{f' {moment(at)}' if at is not None else ''}{gone}"
