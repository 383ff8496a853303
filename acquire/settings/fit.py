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
