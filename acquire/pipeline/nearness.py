"""What a reading in a check looks like: of another piece, far from its own, or of a rocking meter.

Ten limits and five limits are common practice, no source. Pure.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from acquire.calibration.means import mean_of
from acquire.model import CheckPolicy, Piece, Quantity
from acquire.pipeline.checking import Checking
from acquire.units import as_entered, symbol

_FAR, _NEAR = 10, 5
"""Limits off its own piece, and within another's."""
OFFERED_AFTER = 3
"""So often a press is refused before the person is asked whether the meter is on its piece."""


def piece_mistaken(
    pieces: Sequence[Piece], checking: Checking, wanted: str | None, channel: str, value: Decimal
) -> str:
    """Why a reading is not taken for the wanted piece: it is another one's; else nothing.

    Such a reading is kept loose. A meter may read that wrong, too: a person can say that it is on
    the piece all the same (`Checking.insisted`), and then it counts, for the check to fail by. What
    lies nearer to the readings that counted of the piece than to another's value goes with them.
    """
    policy = checking.policy
    certified = {
        step.piece: (certificate.value, step.limit)
        for step in policy.rules
        for piece in pieces
        if piece.id == step.piece
        and (certificate := piece.certificate(policy.quantity, channel)) is not None
    }
    if wanted is None or wanted not in certified or wanted in checking.insisted:
        return ""
    expected, limit = certified.pop(wanted)
    if abs(value - expected) <= _FAR * limit:
        return ""
    counted = checking.readings.get((wanted, channel), ())
    for other, (near, near_limit) in certified.items():
        if counted and abs(value - mean_of(counted).mean) < abs(value - near):
            continue
        if abs(value - near) <= _NEAR * near_limit:
            unit = symbol(policy.unit)
            meter, often = checking.instrument, len(checking.refused.get(wanted, ())) + 1
            insist = (
                f". If it is on {wanted}, say so, and it counts: coatbench check {meter} --on "
                f"{wanted}"
            )
            return (
                f"{wanted} reads about {as_entered(expected)} {unit}; this is near {other} "
                f"({as_entered(near)} {unit}). Next: {placing(policy.quantity, meter, wanted)}"
                f"{insist if often >= OFFERED_AFTER else ''}"
            )
    return ""


def placing(quantity: Quantity, meter: str, piece: str) -> str:
    """What a hand does to read a piece with a meter of its kind."""
    if quantity is Quantity.TRANSMITTANCE:
        return f"put {piece} into {meter}"
    return f"load {meter} with {piece}" if quantity is Quantity.FORCE else f"put {meter} on {piece}"


def refused_words(checking: Checking) -> str:
    """What a check that is broken off leaves unexplained, behind the words on why; else nothing.

    A meter that reads its piece as another one's is as wrong as one can be, and nothing of it would
    be told, since such presses count for nothing.
    """
    unit = symbol(checking.policy.unit)
    told = ""
    for piece, values in checking.unexplained.items():
        least, most = min(values), max(values)
        read = f"{least} {unit}" if least == most else f"{least} to {most} {unit}"
        presses = "1 press" if len(values) == 1 else f"{len(values)} presses"
        told += (
            f"; {presses} asked for on {piece} read {read}, as another piece does, and nobody said "
            f"whether {checking.instrument} was on {piece}: how it read then is not known"
        )
    return told


def far_from(
    pieces: Sequence[Piece], policy: CheckPolicy, piece: str, channel: str, value: Decimal
) -> Decimal | None:
    """The certified value of a piece where a reading of it is far off.

    Such a reading counts, for a meter may have drifted so far; but it is worth a word.
    """
    for rule in policy.rules:
        found = next((p for p in pieces if p.id == piece), None)
        if rule.piece != piece or found is None:
            continue
        certificate = found.certificate(policy.quantity, channel)
        if certificate is not None and abs(value - certificate.value) > _FAR * rule.limit:
            return certificate.value
    return None


def scattering(checking: Checking, piece: str) -> tuple[str, Decimal, Decimal] | None:
    """Channel, standard deviation and limit where the readings of a piece scatter too much so far.

    The widest channel; None where none does, or where there are fewer than two readings.
    """
    limit = next((r.spread_limit for r in checking.policy.rules if r.piece == piece), None)
    if limit is None:
        return None
    spreads = [
        (mean_of(values).spread, channel)
        for channel in checking.policy.channels
        if len(values := checking.readings.get((piece, channel), ())) > 1
    ]
    spread, channel = max(spreads, default=(Decimal(0), ""))
    return (channel, spread, limit) if spread > limit else None
