"""What the results rest on and what is left out of them, in sentences. Pure; any thread."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

from acquire.model.unasked import is_unasked
from acquire.report.evidence.foundbetween import found_between
from acquire.report.evidence.othercount import other_count_lines
from acquire.report.evidence.toolate import too_late_lines
from acquire.report.record.outofrange import beyond_lines, is_out_of_range
from acquire.report.record.record import ReadingRecord, Standing, TrialRecord
from acquire.report.words.wording import counted, moment, numbered

UNCHECKED = (
    "This trial was planned as unchecked: its readings count without a valid check of the "
    "instrument, so nothing shows that the meter was right when they were taken."
)

_CLOCK_BACK_NS = 2_000_000_000
"""As far as a clock may step back without a word: the default of a policy's `clock_jump_s`."""


def coverage(record: TrialRecord) -> tuple[str, ...]:
    """What the results rest on and what is left out of them, in sentences."""
    counting = [r for r in record.readings if r.standing is Standing.COUNTS]
    if not record.readings:
        return ("No reading has been taken yet.",)
    said = [_counting(record, len(counting))]
    states = {
        "bracketed": "{} between two passed checks.",
        "open": "{} under a passed check that no later check has confirmed yet.",
        "not closed": "{} under a passed check that was not closed: the meter was re-adjusted "
        "afterwards, and the check before that, as found, was undecided.",
    }
    if counting:
        for state, words in states.items():
            here = sum(1 for r in counting if r.bracket == state)
            if here:
                verb = "lies" if here == 1 else "lie"
                share = "All of them lie" if here == len(counting) > 1 else f"{here} {verb}"
                said.append(words.format(share))
        unchecked = sum(1 for r in counting if r.bracket == "unchecked")
        if unchecked:
            said.append(f"{unchecked} of them without a valid check.")
    said += found_between(record)
    said += _withdrawn(record, counting)
    said += too_late_lines(record)
    said += other_count_lines(record)
    said += beyond_lines(record)
    said += _clock_back(record)
    said += _suspects(record)
    voids = record.count(Standing.VOID)
    if voids:
        verb = "was" if voids == 1 else "were"
        twice = record.suspect_voids
        also = (
            f"; {twice} of them would be suspect too and {'is' if twice == 1 else 'are'} not "
            "counted as such"
            if twice
            else ""
        )
        said.append(
            f"{counted(voids, 'reading')} of the zones {verb} taken out by a person, with a reason "
            f"(void){also}."
        )
    in_checks = sum(1 for c in record.checks for r in c.readings if r.is_taken_out)
    if in_checks:
        said.append(
            f"In the checks {counted(in_checks, 'reading')} of reference pieces "
            f"{'is' if in_checks == 1 else 'are'} void: a person took out one, with a reason, and "
            "its piece was read anew in full."
        )
    assigned = sum(1 for r in counting if r.assigned_reason)
    if assigned:
        verb = "was given its" if assigned == 1 else "were given their"
        said.append(f"{assigned} of those that count {verb} place by a person, with a reason.")
    unplaced = record.count(Standing.UNPLACED)
    if unplaced:
        said.append(
            f"{counted(unplaced, 'reading')} of an earlier plan have no place in the latest one "
            "and are not in the results."
        )
    impossible = record.count(Standing.IMPOSSIBLE)
    if impossible:
        said.append(
            f"{counted(impossible, 'reading')} of the zones {'is' if impossible == 1 else 'are'} "
            "left out, because no measurement could be so large."
        )
    if record.loose:
        verb = (
            "came around its runs and counts"
            if len(record.loose) == 1
            else ("came around its runs and count")
        )
        said.append(
            f"{counted(len(record.loose), 'loose reading')} {verb} for nothing"
            f"{_out_of_range(record)}{_unasked(record)}."
        )
    return tuple(said)


def _withdrawn(record: TrialRecord, counting: Sequence[ReadingRecord]) -> Iterator[str]:
    """A sentence each certificate, withdrawn since, of checks around readings that count."""
    found: dict[str, set[int]] = {}
    for check in record.checks:
        for text in check.withdrawn:
            found.setdefault(text, set()).add(check.id)
    for text, ids in found.items():
        here = sum(1 for r in counting if ids & {r.check_id, r.closing_check_id})
        if here:
            rest = "rests" if here == 1 else "rest"
            on = f"check{'s' * (len(ids) > 1)} {numbered(sorted(ids))}"
            yield f"{counted(here, 'reading')} {rest} on {on}: {text}."


def _out_of_range(record: TrialRecord) -> str:
    """That loose readings have no value, where the meter could not tell one; else empty."""
    without = sum(1 for r in record.loose if is_out_of_range(r))
    if not without:
        return ""
    each = "it lay" if len(record.loose) == 1 else f"{without} of them lay"
    return f"; the meter sent that {each} outside of its range, which is no value"


def _unasked(record: TrialRecord) -> str:
    """That loose readings are what a meter of several angles or bands sends besides; else empty."""
    beside = sum(1 for r in record.loose if is_unasked(r.loose_reason))
    if not beside:
        return ""
    each = "it is" if len(record.loose) == 1 else f"{beside} of them are"
    return f"; {each} of other angles or bands than were asked for"


def _suspects(record: TrialRecord) -> list[str]:
    """How many readings are suspect, by what made them so."""
    said = []
    suspects = [r for r in record.readings if r.standing is Standing.SUSPECT]
    doubted = sum(r.reassessment_id is not None for r in suspects)
    cut_off = sum(r.is_cut_off for r in suspects)
    then = sum(_is_by_limits_of_then(record, r) for r in suspects)
    for number, reason in (
        (
            len(suspects) - doubted - cut_off - then,
            "the check after {} found the meter outside its limit",
        ),
        (then, "the check after {} passed or was undecided by its own limits, and found the meter "
         "outside those of the check before {}"),
        (cut_off, "the meter was re-adjusted after {}, and no check before that had read it as it "
         "was found"),
        (doubted, _doubts(record, suspects)),
    ):  # fmt: skip
        if not number:
            continue
        why = reason.replace("{}", "it" if number == 1 else "them")
        verb = "is" if number == 1 else "are"
        said.append(f"{counted(number, 'suspect reading')} {verb} left out of the results: {why}.")
    return said


def _is_by_limits_of_then(record: TrialRecord, reading: ReadingRecord) -> bool:
    """Whether a check that did not fail made it suspect, by the limits of the check before it."""
    if reading.reassessment_id is not None or reading.is_cut_off:
        return False
    later = record.check(reading.closing_check_id)
    return later is not None and later.outcome != "fail"


def _doubts(record: TrialRecord, suspects: Sequence[ReadingRecord]) -> str:
    """What the checks rest on that were judged anew and made readings suspect."""
    found: dict[str, list[int]] = {}
    around = {(r.check_id, r.closing_check_id) for r in suspects if r.reassessment_id is not None}
    doubted = {check.id: check for pair in around if (check := record.doubted(*pair)) is not None}
    for check_id, check in sorted(doubted.items()):
        for text in check.withdrawn:
            found.setdefault(text, []).append(check_id)
    return "; ".join(
        f"check{'s' * (len(ids) > 1)} {numbered(ids)}: {text}" for text, ids in found.items()
    )


def _clock_back(record: TrialRecord) -> list[str]:
    """Where the computer's clock went back: dates there are wrong, and the order holds."""
    found = []
    for what, moments in (
        ("reading", [(r.id, r.at_utc_ns) for r in record.readings]),
        ("check", [(c.id, c.begun_utc_ns) for c in record.checks]),
    ):
        for (_, before), (number, at) in itertools.pairwise(moments):
            if before - at > _CLOCK_BACK_NS:
                found.append(
                    f"The computer's clock was set back before {what} {number}: it says "
                    f"{moment(at)}, after {moment(before)} for the one before it. Dates there are "
                    "not to be trusted; what came after what goes by the numbers."
                )
    return found


def _counting(record: TrialRecord, number: int) -> str:
    planned = sum(
        len(record.plan.zones) * len(m.stages) * m.replicates * len(m.channels)
        for m in record.plan.measures
    )
    verb = "counts" if number == 1 else "count"
    return f"{number} of {planned} planned readings {verb}."
