"""Whether a meter reads in proportion: pieces between the zero and the highest one on a line.

A meter that is right at its ends may be bent between them. So the straight line goes through the
piece that is certified nearest to 0 (or through 0 itself, where the lowest piece is no zero) and
through the highest piece, and every other piece must lie on it. What both ends have in common with
the meter's offset and gain drops out: this judges the shape alone, the limits of the pieces judge
the rest. Terminal-based linearity, as it is called of instruments (IEC 60050-311, from memory).

The uncertainty is that of the departure d = x - (1 - p) x0 - p x1, where p = (c - c0)/(c1 - c0), x
are means, c certified values and g = (x1 - x0)/(c1 - c0) is the slope (JCGM 100:2008, 5.1.2):

    u^2(d) = u^2(x) + (1-p)^2 u^2(x0) + p^2 u^2(x1) + g^2 (u^2(c) + (1-p)^2 u^2(c0) + p^2 u^2(c1))

with certificates taken as independent, which is the larger of both cases as long as they come from
one laboratory and p lies between 0 and 1. Pure.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal, localcontext

from acquire.calibration.edition import EDITION
from acquire.calibration.means import PRECISION, Mean, Term, expanded, mean_of, read_terms
from acquire.calibration.written import kept, kept_given, written_by
from acquire.model import (
    CheckPolicy,
    LinearityJudgement,
    Outcome,
    Piece,
    PieceKind,
    at_channel,
)
from acquire.units import symbol

_ZERO = Decimal(0)
ZEROS = frozenset({PieceKind.BLACK_TRAP, PieceKind.NO_LOAD, PieceKind.DARK})
"""Pieces that show the zero of a meter."""


@dataclass(frozen=True, slots=True)
class _Point:
    piece: str
    read: Mean
    certified: Decimal
    u_certified: Decimal
    is_zero: bool


def linearity(
    policy: CheckPolicy,
    pieces: Mapping[str, Piece],
    readings: Mapping[tuple[str, str], Sequence[Decimal]],
    edition: int = EDITION,
) -> tuple[LinearityJudgement, ...]:
    """Every piece between the ends, at every channel; none where the policy has no limit for it.

    Pieces that were not read in full or have no certificate are left out: they leave the check
    undecided by themselves.
    """
    limit = policy.linearity_limit
    if limit is None:
        return ()
    return tuple(
        judged
        for channel in policy.channels
        for judged in _at(
            policy, channel, _points(policy, channel, pieces, readings), limit, edition
        )
    )


def _points(
    policy: CheckPolicy,
    channel: str,
    pieces: Mapping[str, Piece],
    readings: Mapping[tuple[str, str], Sequence[Decimal]],
) -> list[_Point]:
    points = []
    for rule in policy.rules:
        piece, values = pieces.get(rule.piece), readings.get((rule.piece, channel), ())
        certificate = piece.certificate(policy.quantity, channel) if piece else None
        if piece is None or certificate is None or len(values) < rule.readings:
            continue
        is_zero = piece.kind in ZEROS
        points.append(
            _Point(
                rule.piece,
                mean_of(values),
                certificate.value,
                certificate.standard_uncertainty,
                is_zero,
            )
        )
    return sorted(points, key=lambda p: p.certified)


_ORIGIN = _Point("", Mean(0, _ZERO, _ZERO, _ZERO), _ZERO, _ZERO, True)


def _at(
    policy: CheckPolicy, channel: str, points: Sequence[_Point], limit: Decimal, edition: int
) -> list[LinearityJudgement]:
    if not points:
        return []
    zero = points[0] if points[0].is_zero else _ORIGIN
    high = points[-1]
    between = [p for p in points if p not in (zero, high) and zero.certified < p.certified]
    return [
        _judged(policy, channel, (zero, high), point, limit, edition)
        for point in between
        if point.certified < high.certified
    ]


def _judged(
    policy: CheckPolicy,
    channel: str,
    ends: tuple[_Point, _Point],
    point: _Point,
    limit: Decimal,
    edition: int,
) -> LinearityJudgement:
    zero, high = ends
    with localcontext(prec=PRECISION):
        span = high.certified - zero.certified
        p = (point.certified - zero.certified) / span
        slope = (high.read.mean - zero.read.mean) / span
        departure = point.read.mean - (1 - p) * zero.read.mean - p * high.read.mean
        terms = read_terms(point.read, policy.resolution)
        terms += read_terms(high.read, policy.resolution, p**2)
        if zero is not _ORIGIN:
            terms += read_terms(zero.read, policy.resolution, (1 - p) ** 2)
        terms += [
            Term(slope**2 * point.u_certified**2),
            Term(slope**2 * p**2 * high.u_certified**2),
            Term(slope**2 * (1 - p) ** 2 * zero.u_certified**2),
        ]
        doubt = expanded(terms)
        if abs(departure) + doubt <= limit:
            outcome, tail = Outcome.PASS, "inside"
        elif abs(departure) - doubt > limit:
            outcome, tail = Outcome.FAIL, "outside: the meter is not linear"
        else:
            outcome, tail = Outcome.UNDECIDED, "too near the limit to decide"
    unit, write = symbol(policy.unit), written_by(edition, doubt, policy.resolution)
    return LinearityJudgement(
        piece=point.piece,
        channel=channel,
        zero=zero.piece,
        high=high.piece,
        outcome=outcome,
        departure=kept(departure, edition),
        expanded_uncertainty=kept(doubt, edition),
        limit=kept_given(limit, edition),
        unit=policy.unit,
        message=(
            f"{point.piece}{at_channel(channel)} lies {write.signed(departure)} {unit} off the "
            f"straight line from {zero.piece or '0'} to {high.piece}; limit {write.given(limit)} "
            f"{unit}, uncertainty {write.value(doubt)} {unit}: {tail}"
        ),
    )
