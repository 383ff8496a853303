"""Judging one piece of a check at one channel, by the rule that `acquire.calibration.judge` names.

Decimal arithmetic throughout, so that a stored judgement can be recomputed digit for digit. Pure.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from acquire.calibration.edition import EVERY_READING_OUTSIDE
from acquire.calibration.means import Term, expanded, mean_of, read_terms
from acquire.calibration.written import kept, kept_given, written_by
from acquire.model import (
    Certificate,
    CheckPolicy,
    Outcome,
    Piece,
    PieceJudgement,
    PieceRule,
    at_channel,
)
from acquire.units import symbol


def every_reading_outside(
    policy: CheckPolicy,
    rule: PieceRule,
    certificate: Certificate | None,
    values: Sequence[Decimal],
    edition: int,
) -> bool:
    """Whether each reading by itself lies outside the limit, all on one side, whatever their mean.

    A single reading is held with the certificate's uncertainty, the display's and, in the place of
    a scatter that it does not tell, the largest that the policy lets a piece have. So a slipped
    press beside good ones is no finding, and readings that scatter far outside are none of a meter
    that only rocks.
    """
    if edition < EVERY_READING_OUTSIDE or certificate is None or not values:
        return False
    room = rule.limit + _doubt_of_one(policy, rule, certificate)
    off = [value - certificate.value for value in values]
    return min(off) > room or max(off) < -room


def _doubt_of_one(policy: CheckPolicy, rule: PieceRule, certificate: Certificate) -> Decimal:
    """U at 95 % of the deviation of a single reading."""
    display = policy.resolution**2 / 12
    scatter = rule.spread_limit**2
    return expanded([Term(certificate.standard_uncertainty**2), Term(display), Term(scatter)])


def judge_piece(
    policy: CheckPolicy,
    rule: PieceRule,
    channel: str,
    piece: Piece | None,
    values: Sequence[Decimal],
    on: date,
    edition: int,
) -> PieceJudgement:
    """What its readings say of a piece, by the certificate that is valid on a day."""
    certificate = piece.certificate(policy.quantity, channel) if piece else None
    unit = symbol(policy.unit)
    name = rule.piece + at_channel(channel)

    _, mean, spread, _ = read = mean_of(values)
    doubt = Decimal(0)
    if values:
        u_certified = certificate.standard_uncertainty if certificate else Decimal(0)
        doubt = expanded([*read_terms(read, policy.resolution), Term(u_certified**2)])
    is_far = every_reading_outside(policy, rule, certificate, values, edition)
    if is_far and certificate is not None and len(values) == 1:
        doubt = _doubt_of_one(policy, rule, certificate)
    write = written_by(edition, doubt, policy.resolution)
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
            mean=kept(mean, edition),
            spread=kept(spread, edition),
            certified=kept_given(certificate.value, edition) if certificate else Decimal(0),
            deviation=kept(deviation, edition),
            expanded_uncertainty=kept(doubt, edition) if is_held else Decimal(0),
            limit=kept_given(rule.limit, edition),
            spread_limit=kept_given(rule.spread_limit, edition),
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
    once = " at its one press" if is_far and len(values) == 1 else ""
    figures = (
        f"{name} read {write.value(mean)} {unit}{once}, "
        f"{write.signed(deviation)} from its certified {write.given(certificate.value)} {unit}; "
        f"limit {write.given(rule.limit)} {unit}, uncertainty {write.value(doubt)} {unit}"
    )
    is_outside = abs(deviation) - doubt > rule.limit
    if fault:
        # It cannot fail by such a certificate, yet what was found makes readings before it suspect.
        is_told = is_held and is_outside
        return found(Outcome.UNDECIDED, f"{fault}; {figures}: outside" if is_told else fault)
    if is_far and (spread > rule.spread_limit or not is_outside):
        tail = f"each of its {len(values)} readings lies outside by itself"
        return found(Outcome.FAIL, f"{figures}: {tail}")
    if spread > rule.spread_limit:
        of_spread = written_by(edition, rule.spread_limit, policy.resolution)
        return found(
            Outcome.UNDECIDED,
            f"{name} scatters by {of_spread.value(spread)} {unit}, more than "
            f"{of_spread.given(rule.spread_limit)} {unit}: the meter rocks or the piece is dirty",
        )
    if abs(deviation) + doubt <= rule.limit:
        outcome, tail = Outcome.PASS, "inside"
    elif is_outside:
        outcome, tail = Outcome.FAIL, "outside"
    else:
        outcome, tail = Outcome.UNDECIDED, "too near the limit to decide"
    return found(outcome, f"{figures}: {tail}")
