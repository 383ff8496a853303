"""Whether the pieces of a bench serve the policies of its instruments. Pure; any thread."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal

from acquire.errors import Fault
from acquire.model import CheckPolicy, Piece, PieceRule, at_channel
from acquire.schema import either, show

_SURE_95 = Decimal("1.96")
"""The factor for 95 % of a normal distribution, the least any check is judged with."""


def fit_faults(
    label: str, policy: CheckPolicy, pieces: Mapping[str, Piece | None]
) -> Iterator[Fault]:
    """What keeps a check by this policy from ever being passed with these pieces.

    `pieces` are in the order of the bench file, with None for a piece that has faults of its own,
    of which nothing more can be said. `label` names the policy's file.
    """
    for index, step in enumerate(policy.rules):
        path = f"{label}: step[{index}]"
        if step.piece not in pieces:
            there = f"here: {either(pieces, 'and')}" if pieces else "there are none"
            yield Fault(f"{path}.piece", show(step.piece), f"a [[piece]] of the bench ({there})")
            continue
        piece = pieces[step.piece]
        if piece is not None:
            yield from _step_faults(path, policy, step, piece, list(pieces))
    known = [piece for step in policy.rules if (piece := pieces.get(step.piece)) is not None]
    if len(known) == len(policy.rules):
        yield from _line_faults(label, policy, known)
        yield from _range_faults(label, policy, known)


def _line_faults(label: str, policy: CheckPolicy, pieces: Sequence[Piece]) -> Iterator[Fault]:
    """A straight line takes a piece between its ends to be judged."""
    if policy.linearity_limit is None:
        return
    for channel in policy.channels:
        certified = {
            c.value for p in pieces if (c := p.certificate(policy.quantity, channel)) is not None
        }
        if len({value for value in certified if value > 0}) < 2:
            wanted = (
                "steps with two pieces that read other than 0, or no linearity_limit: one between "
                f"zero and the highest piece is judged{at_channel(channel)}"
            )
            yield Fault(f"{label}: linearity_limit", show(policy.linearity_limit), wanted)
            return


def _range_faults(label: str, policy: CheckPolicy, pieces: Sequence[Piece]) -> Iterator[Fault]:
    """What a pass covers must hold what it was checked at."""
    if policy.span is None:
        return
    low, high = policy.span
    for piece in pieces:
        for channel in policy.channels:
            certificate = piece.certificate(policy.quantity, channel)
            if certificate is not None and not low <= certificate.value <= high:
                got = f"{low} to {high} {policy.unit}"
                wanted = (
                    f"a range with every piece of the policy in it: {piece.id}"
                    f"{at_channel(channel)} is certified {certificate.value}"
                )
                yield Fault(f"{label}: range", got, wanted)
                return


def _step_faults(
    path: str, policy: CheckPolicy, step: PieceRule, piece: Piece, order: Sequence[str]
) -> Iterator[Fault]:
    there = f"piece[{order.index(piece.id)}]"
    for channel in policy.channels:
        what = f"{policy.quantity}{at_channel(channel)}"
        certificate = piece.certificate(policy.quantity, channel)
        if certificate is None:
            wanted = f"one for {what}, which policy {policy.id} reads it at"
            yield Fault(f"{there}.certificate", "no certificate that fits", wanted)
        else:
            u_squared = certificate.standard_uncertainty**2 + policy.resolution**2 / 12
            least = _SURE_95 * u_squared.sqrt()
            if step.limit <= least:
                wanted = (
                    f"more than {least:.3g}: the certificate of {piece.id} for {what} and the "
                    "display leave that much doubt, so the check could never pass"
                )
                yield Fault(f"{path}.limit", show(step.limit), wanted)
