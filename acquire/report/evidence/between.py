"""Checks that lie between those around some readings and closed nothing: what they found.

An undecided check, or one that was broken off, neither confirms readings nor makes them suspect.
It has read the meter all the same, so it is named beside the checks around them, what it found
counts as drift (`acquire.report.evidence.prepared`), and a drift that it shows to be no straight
line is not corrected by one. What is between goes by the numbers of checks: the order in which they
happened, whatever a clock said. Pure; any thread.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

from acquire.analysis.budget.uncertainty import Combined
from acquire.analysis.figures import signed, with_reach
from acquire.report.evidence.piecemoments import read_at_ns
from acquire.report.record.checkrecord import CheckRecord, PieceRecord
from acquire.report.record.record import TrialRecord
from acquire.report.words.wording import moment
from acquire.units import symbol

_OUTCOMES = {"pass": "passed", "fail": "failed", "undecided": "undecided"}
_COVERAGE = 2
"""As the uncertainty of a check is told: about 95 %."""

Doubt = Callable[[PieceRecord, CheckRecord], Combined]


def between(record: TrialRecord, opening: int | None, closing: int | None) -> list[CheckRecord]:
    """The judged checks of the same meter after `opening` and before `closing` (or up to now).

    Behind a re-adjustment a check says nothing of what came before it.
    """
    first = record.check(opening)
    if first is None:
        return []
    found: list[CheckRecord] = []
    for check in record.checks:
        if check.id <= first.id or check.serial != first.serial or check.judged_utc_ns is None:
            continue
        if (closing is not None and check.id >= closing) or check.adjustment is not None:
            break
        found.append(check)
    return found


def between_words(record: TrialRecord, opening: int | None, closing: int | None) -> str:
    """``check 18, undecided 2026-11-20 08:00:04, found T1 off by −1.07 GU``; empty without any."""
    own = between(record, opening, closing)
    found = sorted([*own, *_under_another_serial(record, opening, closing)], key=lambda c: c.id)
    return "; ".join(_found(check, is_other=check not in own) for check in found)


def _under_another_serial(
    record: TrialRecord, opening: int | None, closing: int | None
) -> list[CheckRecord]:
    """Checks in between that did not pass, of an instrument of the same name that was said to be
    another one.

    They say nothing of the meter if it was exchanged; of one that cannot be asked nobody knows.
    """
    first = record.check(opening)
    if first is None:
        return []
    return [
        check
        for check in record.checks
        if check.id > first.id
        and (closing is None or check.id < closing)
        and check.judged_utc_ns is not None
        and check.outcome != "pass"
        and check.instrument == first.instrument
        and check.serial != first.serial
    ]


def _found(check: CheckRecord, *, is_other: bool) -> str:
    at = check.judged_utc_ns
    outcome = _OUTCOMES.get(check.outcome, check.outcome)
    if check.is_abandoned:
        outcome = f"broken off ({outcome})"
    whose = f" of {check.instrument} under serial {check.serial}" if is_other else ""
    told = f"check {check.id}{whose}, {outcome}{f' {moment(at)}' if at is not None else ''}"
    off = [
        f"{piece.piece}{f' at {piece.channel}' if piece.channel else ''} off by "
        f"{signed(float(piece.deviation), float(piece.expanded_uncertainty))} "
        f"{symbol(piece.unit)}".rstrip()
        for piece in check.pieces
        if piece.is_judged and piece.outcome != "pass"
    ]
    if off:
        return f"{told}, found {' and '.join(off)}"
    return f"{told}: {check.message}" if check.outcome != "pass" else told


def told_as(check: CheckRecord) -> str:
    """What became of a check that closed nothing, as it stands in brackets behind its number."""
    if check.is_abandoned:
        return "broken off"
    if check.outcome == "pass":
        return "passed and closed nothing"
    return _OUTCOMES.get(check.outcome, check.outcome)


def off_line(
    record: TrialRecord,
    opening: tuple[CheckRecord, PieceRecord],
    closing: tuple[CheckRecord, PieceRecord],
    doubt: Doubt,
) -> str:
    """Why a straight line from opening to closing is not what the meter did; empty if it may be.

    A check between that read the piece farther off that line than all three readings of it leave
    room for: twice the root of the sum of their squared standard uncertainties, the ends as they
    count at that moment. The certificate is the same in all, and cancels.
    """
    return next(_off_line(record, opening, closing, doubt), "")


def _off_line(
    record: TrialRecord,
    opening: tuple[CheckRecord, PieceRecord],
    closing: tuple[CheckRecord, PieceRecord],
    doubt: Doubt,
) -> Iterator[str]:
    first, last = opening[1], closing[1]
    start_ns, end_ns = (
        read_at_ns(check, piece.piece, piece.channel) or 0 for check, piece in (opening, closing)
    )
    for check in between(record, opening[0].id, closing[0].id):
        read = check.piece(first.piece, first.channel)
        at_ns = read_at_ns(check, first.piece, first.channel)
        if read is None or at_ns is None:
            continue
        p = (at_ns - start_ns) / (end_ns - start_ns) if end_ns > start_ns else 0.0
        p = min(1.0, max(0.0, p))
        line = (1 - p) * float(first.mean) + p * float(last.mean)
        off = float(read.mean) - line
        room = _COVERAGE * math.hypot(
            doubt(read, check).u, (1 - p) * doubt(first, opening[0]).u,
            p * doubt(last, closing[0]).u,
        )  # fmt: skip
        if abs(off) > room:
            unit = symbol(first.unit)
            figure, half = with_reach(off, room)
            yield (
                f"a check between that contradicts a straight line: check {check.id} read "
                f"{first.piece} {figure} {unit} off it, with ± {half} "
                f"{unit} of room"
            )
