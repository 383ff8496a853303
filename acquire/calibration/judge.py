"""Judging a check: pass, fail or undecided, with a guard band of the check's own uncertainty.

Rule (JCGM 106:2012, 8.3.2 guarded acceptance and 8.3.3 guarded rejection): pass when
|deviation| + U <= limit, fail when |deviation| - U > limit, undecided between. U is the expanded
uncertainty at 95 % of the deviation (JCGM 100:2008, 5.1.2 and G.4): the certificate's u, the
scatter of the step's readings s/sqrt(n), and the display's resolution q/sqrt(12). A piece of which
every reading is outside by itself was found outside, too, however its readings scatter.

Decimal arithmetic throughout, so that a stored judgement can be recomputed digit for digit.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal

from acquire.calibration.edition import EDITION
from acquire.calibration.linearity import linearity
from acquire.calibration.piece import every_reading_outside, judge_piece
from acquire.model import (
    Certificate,
    CheckPolicy,
    Judgement,
    Outcome,
    Piece,
    PieceJudgement,
)
from acquire.model.verdict import ABANDONED

_SEVERITY = {Outcome.PASS: 0, Outcome.UNDECIDED: 1, Outcome.FAIL: 2}


def judge(
    instrument: str,
    policy: CheckPolicy,
    pieces: Mapping[str, Piece],
    readings: Mapping[tuple[str, str], Sequence[Decimal]],
    on: date,
    edition: int = EDITION,
) -> Judgement:
    """Judge the readings of a whole check; keys of `readings` are (piece, channel).

    Every rule of the policy is judged at every channel of the policy. A step with fewer readings
    than the policy wants, or whose certificate is missing or past its due date on `on`, is
    undecided: it cannot open the gate, and says what is needed.
    """
    judged = tuple(
        judge_piece(
            policy,
            rule,
            channel,
            pieces.get(rule.piece),
            readings.get((rule.piece, channel), ()),
            on,
            edition,
        )
        for rule in policy.rules
        for channel in policy.channels
    )
    lines = linearity(policy, pieces, readings, edition)
    outcomes = [*(j.outcome for j in judged), *(line.outcome for line in lines)]
    worst = max(outcomes, key=_SEVERITY.__getitem__)
    if worst is Outcome.PASS:
        count = len(judged)
        straight = ", and on a straight line" if lines else ""
        return Judgement(
            Outcome.PASS,
            judged,
            f"{count} of {count} pieces inside their limits{straight}",
            f"coatbench run FILE STAGE --with {instrument}",
            lines,
        )
    told = [j.message for j in judged if j.outcome is worst]
    told += [line.message for line in lines if line.outcome is worst]
    message = "; ".join(told)
    if worst is Outcome.FAIL:
        next_step = (
            f"clean piece and meter, re-adjust {instrument} by its own button if it still "
            f"deviates, then coatbench check {instrument}"
        )
    else:
        next_step = f"see to the piece named, then coatbench check {instrument}"
    return Judgement(worst, judged, message, next_step, lines)


def judge_so_far(
    policy: CheckPolicy,
    pieces: Mapping[str, Piece],
    readings: Mapping[tuple[str, str], Sequence[Decimal]],
    on: date,
    edition: int = EDITION,
) -> tuple[PieceJudgement, ...]:
    """What the readings of a check that was broken off say of the pieces.

    Of those read at least twice, or once and far outside.
    """
    return tuple(
        judge_piece(
            policy,
            replace(rule, readings=min(rule.readings, len(values))),
            channel,
            pieces.get(rule.piece),
            values,
            on,
            edition,
        )
        for rule in policy.rules
        for channel in policy.channels
        if len(values := readings.get((rule.piece, channel), ())) >= 2
        or every_reading_outside(
            policy, rule, _certificate(policy, pieces, rule.piece, channel), values, edition
        )
    )


def _certificate(
    policy: CheckPolicy, pieces: Mapping[str, Piece], name: str, channel: str
) -> Certificate | None:
    piece = pieces.get(name)
    return None if piece is None else piece.certificate(policy.quantity, channel)


def found_outside(
    policy: CheckPolicy,
    pieces: Mapping[str, Piece],
    readings: Mapping[tuple[str, str], Sequence[Decimal]],
    found: Mapping[tuple[str, str], Sequence[Decimal]],
    on: date,
    edition: int = EDITION,
) -> list[str]:
    """What a check would fail by if it were broken off, in words a piece; empty for nothing.

    `found` are the readings with the voided ones.
    """
    judged = judge_so_far(policy, pieces, readings, on, edition)
    everything = judge_so_far(policy, pieces, found, on, edition)
    failed = (p.message for p in (*judged, *everything) if p.outcome is Outcome.FAIL)
    return list(dict.fromkeys(failed))


def judge_broken_off(
    policy: CheckPolicy,
    pieces: Mapping[str, Piece],
    readings: Mapping[tuple[str, str], Sequence[Decimal]],
    found: Mapping[tuple[str, str], Sequence[Decimal]],
    on: date,
    why: str,
    next_step: str,
    edition: int = EDITION,
) -> Judgement:
    """What a check says that did not come to its end: never a pass, a fail where it found one.

    `found` are the readings with the voided ones: a void takes back nothing that was found.
    """
    failed = found_outside(policy, pieces, readings, found, on, edition)
    told = f"{ABANDONED}{why}"
    return Judgement(
        Outcome.FAIL if failed else Outcome.UNDECIDED,
        judge_so_far(policy, pieces, readings, on, edition),
        f"{told}; but {'; '.join(failed)}" if failed else told,
        next_step,
    )
