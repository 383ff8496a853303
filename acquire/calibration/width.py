"""Whether the limits of a policy hold anything: warnings in words, with their figures. Pure.

A finding never blocks a check: how far a meter may read off is the decision of whoever uses it.
What can be no limit at all (as wide as the scale) is a fault of the policy file.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal

from acquire.model import CheckPolicy, Piece, PieceRule, at_channel
from acquire.units import symbol

WIDE_SHARE = Decimal("0.1")
"""Of the highest certified value of a check: a wider limit lets a meter pass that everybody would
call broken (common practice, no source; ASTM D523 asks for 1 GU near 95, from memory)."""


def wide_limits(policy: CheckPolicy, pieces: Iterable[Piece]) -> list[str]:
    """What is so wide in a policy that it holds nothing, a sentence each; none for most policies.

    A limit or the linearity limit above a tenth of the highest certified value, at the channel
    where that is lowest, and a spread limit above the limit of its own piece. What is not known
    (a piece without a certificate) is not judged.
    """
    known = {piece.id: piece for piece in pieces}
    highest = _highest(policy, known)
    found = [] if highest is None else [*_wide(policy, known, *highest)]
    return [*found, *_scattered(policy)]


def _highest(policy: CheckPolicy, known: Mapping[str, Piece]) -> tuple[Decimal, str] | None:
    """The highest certified value at the channel where it is lowest, and that channel."""
    found = []
    for channel in policy.channels:
        values = [
            certificate.value
            for rule in policy.rules
            if (piece := known.get(rule.piece)) is not None
            and (certificate := piece.certificate(policy.quantity, channel)) is not None
        ]
        if not values:
            return None
        found.append((max(values), channel))
    value, channel = min(found)
    return (value, channel) if value > 0 else None


def _wide(
    policy: CheckPolicy, known: Mapping[str, Piece], highest: Decimal, channel: str
) -> Iterator[str]:
    top = f"{_plain(highest)}{_unit(policy)}, its highest certified value{at_channel(channel)}"
    limits: list[tuple[str, Decimal, PieceRule | None]] = [
        (f"limit of {rule.piece}", rule.limit, rule) for rule in policy.rules
    ]
    if policy.linearity_limit is not None:
        limits.append(("linearity limit", policy.linearity_limit, None))
    for what, limit, rule in limits:
        if limit <= WIDE_SHARE * highest:
            continue
        told = f"is more than a tenth of {top}, so that hardly anything fails it"
        if rule is not None and (value := _exceeded(policy, rule, known)) is not None:
            told = (
                f"is wider than its certified {_plain(value)}{_unit(policy)}, so that a meter that "
                "shows 0 passes it"
            )
        yield (
            f"policy {policy.id}: the {what}, {_plain(limit)}{_unit(policy)}, {told}. Next: set "
            "it by the data sheet of the meter"
        )


def _exceeded(policy: CheckPolicy, rule: PieceRule, known: Mapping[str, Piece]) -> Decimal | None:
    """The lowest certified value of a piece, where its limit reaches beyond it down to zero."""
    piece = known.get(rule.piece)
    found = (piece.certificate(policy.quantity, c) for c in policy.channels) if piece else ()
    values = [one.value for one in found if one is not None and 0 < one.value <= rule.limit]
    return min(values, default=None)


def _scattered(policy: CheckPolicy) -> Iterator[str]:
    for rule in policy.rules:
        if rule.spread_limit > rule.limit:
            yield (
                f"policy {policy.id}: the spread limit of {rule.piece}, "
                f"{_plain(rule.spread_limit)}{_unit(policy)}, is wider than its limit, "
                f"{_plain(rule.limit)}{_unit(policy)}: no rocking meter is found by it. Next: set "
                "it below the limit"
            )


def _unit(policy: CheckPolicy) -> str:
    sign = symbol(policy.unit)
    return f" {sign}" if sign else ""


def _plain(value: Decimal) -> str:
    return f"{round(value, 6).normalize():f}"
