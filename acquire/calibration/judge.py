"""Judging a check: pass, fail or undecided, with a guard band of the check's own uncertainty.

Rule (JCGM 106:2012, 8.3.2 guarded acceptance and 8.3.3 guarded rejection): pass when
|deviation| + U <= limit, fail when |deviation| - U > limit, undecided between. U is the expanded
uncertainty at 95 % of the deviation (JCGM 100:2008, 5.1.2 and G.4): the certificate's u, the
scatter of the step's readings s/sqrt(n), and the display's resolution q/sqrt(12).

Decimal arithmetic throughout, so that a stored judgement can be recomputed digit for digit.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal

from acquire.calibration.linearity import linearity
from acquire.calibration.means import Term, expanded, mean_of, read_terms
from acquire.model import (
    CheckPolicy,
    Judgement,
    Outcome,
    Piece,
    PieceJudgement,
    PieceRule,
    at_channel,
)
from acquire.model.verdict import ABANDONED
from acquire.units import symbol

_STEP = Decimal("0.0001")
_SEVERITY = {Outcome.PASS: 0, Outcome.UNDECIDED: 1, Outcome.FAIL: 2}


def judge(
    instrument: str,
    policy: CheckPolicy,
    pieces: Mapping[str, Piece],
    readings: Mapping[tuple[str, str], Sequence[Decimal]],
    on: date,
) -> Judgement:
    """Judge the readings of a whole check; keys of `readings` are (piece, channel).

    Every rule of the policy is judged at every channel of the policy. A step with fewer readings
    than the policy wants, or whose certificate is missing or past its due date on `on`, is
    undecided: it cannot open the gate, and says what is needed.
    """
    judged = tuple(
        _judge_piece(
            policy,
            rule,
            channel,
            pieces.get(rule.piece),
            readings.get((rule.piece, channel), ()),
            on,
        )
        for rule in policy.rules
        for channel in policy.channels
    )
    lines = linearity(policy, pieces, readings)
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
) -> tuple[PieceJudgement, ...]:
    """What the readings of a check that was broken off say of the pieces read at least twice."""
    return tuple(
        _judge_piece(
            policy,
            replace(rule, readings=min(rule.readings, len(values))),
            channel,
            pieces.get(rule.piece),
            values,
            on,
        )
        for rule in policy.rules
        for channel in policy.channels
        if len(values := readings.get((rule.piece, channel), ())) >= 2
    )


def judge_broken_off(
    policy: CheckPolicy,
    pieces: Mapping[str, Piece],
    readings: Mapping[tuple[str, str], Sequence[Decimal]],
    found: Mapping[tuple[str, str], Sequence[Decimal]],
    on: date,
    why: str,
    next_step: str,
) -> Judgement:
    """What a check says that did not come to its end: never a pass, a fail where it found one.

    `found` are the readings with the voided ones: a void takes back nothing that was found.
    """
    judged = judge_so_far(policy, pieces, readings, on)
    everything = judge_so_far(policy, pieces, found, on)
    failed = list(
        dict.fromkeys(p.message for p in (*judged, *everything) if p.outcome is Outcome.FAIL)
    )
    told = f"{ABANDONED}{why}"
    return Judgement(
        Outcome.FAIL if failed else Outcome.UNDECIDED,
        judged,
        f"{told}; but {'; '.join(failed)}" if failed else told,
        next_step,
    )


def _judge_piece(
    policy: CheckPolicy,
    rule: PieceRule,
    channel: str,
    piece: Piece | None,
    values: Sequence[Decimal],
    on: date,
) -> PieceJudgement:
    certificate = piece.certificate(policy.quantity, channel) if piece else None
    unit = symbol(policy.unit)
    name = rule.piece + at_channel(channel)

    _, mean, spread, _ = read = mean_of(values)
    doubt = Decimal(0)
    if values:
        u_certified = certificate.standard_uncertainty if certificate else Decimal(0)
        doubt = expanded([*read_terms(read, policy.resolution), Term(u_certified**2)])
    deviation = mean - certificate.value if certificate and values else Decimal(0)
    # What is held against nothing, or not read in full, has no uncertainty: nobody may take its
    # figures for a finding. A certificate that ran out in the midst of a check takes none away.
    is_held = certificate is not None and len(values) >= rule.readings

    def found(outcome: Outcome, message: str) -> PieceJudgement:
        return PieceJudgement(
            piece=rule.piece,
            channel=channel,
            outcome=outcome,
            count=len(values),
            mean=mean.quantize(_STEP),
            spread=spread.quantize(_STEP),
            certified=certificate.value if certificate else Decimal(0),
            deviation=deviation.quantize(_STEP),
            expanded_uncertainty=doubt.quantize(_STEP) if is_held else Decimal(0),
            limit=rule.limit,
            spread_limit=rule.spread_limit,
            unit=policy.unit,
            message=message,
        )

    fault = ""
    if certificate is None:
        fault = f"{name} has no certificate; enter one in bench.toml"
    elif on > certificate.due:
        fault = (
            f"the certificate of {name} ran out on {certificate.due.isoformat()}; have it renewed"
        )
    elif on < certificate.issued:
        fault = (
            f"the certificate of {name} is issued only on {certificate.issued.isoformat()}; "
            "set the clock or the certificate right"
        )
    elif len(values) < rule.readings:
        fault = f"{name} was read {len(values)} times of {rule.readings}"
    if certificate is None:
        return found(Outcome.UNDECIDED, fault)
    figures = (
        f"{name} read {mean.quantize(Decimal('0.01'))} {unit}, "
        f"{deviation.quantize(Decimal('0.01')):+} from its certified {certificate.value} {unit}; "
        f"limit {rule.limit} {unit}, uncertainty {doubt.quantize(Decimal('0.01'))} {unit}"
    )
    is_outside = abs(deviation) - doubt > rule.limit
    if fault:
        # It cannot fail by such a certificate, yet what was found makes readings before it suspect.
        is_told = is_held and is_outside
        return found(Outcome.UNDECIDED, f"{fault}; {figures}: outside" if is_told else fault)
    if spread > rule.spread_limit:
        return found(
            Outcome.UNDECIDED,
            f"{name} scatters by {spread.quantize(Decimal('0.01'))} {unit}, more than "
            f"{rule.spread_limit} {unit}: the meter rocks or the piece is dirty",
        )
    if abs(deviation) + doubt <= rule.limit:
        outcome, tail = Outcome.PASS, "inside"
    elif is_outside:
        outcome, tail = Outcome.FAIL, "outside"
    else:
        outcome, tail = Outcome.UNDECIDED, "too near the limit to decide"
    return found(outcome, f"{figures}: {tail}")
