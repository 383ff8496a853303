"""Taking a slipped press out of the check under way. Runs on the desk's thread.

A void is for a press that slipped, never a way to a better verdict: it wants a reason, its piece
is read anew in full, a piece has one void a check, and where two readings of the piece are outside
its limit that is a finding and stays one. Once a check is judged nothing is taken out of it.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from acquire.errors import Refused
from acquire.model import Instant
from acquire.pipeline.asking import Answer
from acquire.pipeline.checking import Checking
from acquire.pipeline.desk import Desk
from acquire.store import rows as r
from acquire.store.found import StoredReading
from acquire.store.rows import Row
from acquire.units import symbol

FINDING = 2
"""So many readings of a piece outside its limit are no slip (common practice, no source)."""


def void_in_check(desk: Desk, reading: StoredReading, reason: str, at: Instant) -> Answer:
    """Void a reading of a check under way, with all others of its piece. Raises `Refused`."""
    found = _place_of(desk, reading.id)
    if found is None:
        raise Refused(
            f"reading {reading.id} is of a check that is judged",
            reason="check judged",
            got=f"a reading that the verdict on {reading.instrument} rests on",
            wanted="a reading of the check that is under way",
            next_step=f"coatbench check {reading.instrument} does it again, whole",
        )
    checking, piece = found
    if checking.was_voided(piece):
        raise Refused(
            f"reading {reading.id} is not voided",
            reason="voided once already",
            got=f"a second void of {piece} in check {checking.check_id}",
            wanted="one void of a piece in a check",
            next_step=f"go on, and the verdict tells; or coatbench check {checking.instrument} "
            f"--abandon, see to {piece} and meter, and check anew",
        )
    # By angle: one press that slipped is outside at every angle that it was read at.
    outside = max(_outside(desk, checking, piece, at), key=len, default=[])
    if len(outside) >= FINDING:
        raise Refused(
            f"reading {reading.id} is not voided",
            reason="found outside",
            got=f"{', '.join(map(str, outside))} {symbol(checking.policy.unit)} on {piece}, all "
            "outside its limit",
            wanted="one slipped press among good ones",
            next_step=f"go on, and the verdict tells; or coatbench check {checking.instrument} "
            f"--abandon, see to {piece} and meter, and check anew",
        )
    taken_out = checking.void(piece)
    # The latest press may be half in, whichever of the readings was named.
    desk.standings[checking.instrument].press.void(max(taken_out))
    others = f"{piece} is read anew, since reading {reading.id} is void: {reason}"
    rows: list[Row] = [
        r.VoidRow(desk.ids.take(r.VoidRow), at.utc_ns, one, reason if one == reading.id else others)
        for one in taken_out
    ]
    return Answer(
        {
            "reading_id": reading.id,
            "check_id": checking.check_id,
            "piece": piece,
            "readings": taken_out,
        },
        rows,
    )


def _place_of(desk: Desk, reading_id: int) -> tuple[Checking, str] | None:
    """The check under way that a reading counts in, and the piece it is of."""
    for standing in desk.standings.values():
        checking = standing.checking
        piece = checking.piece_of(reading_id) if checking is not None else None
        if checking is not None and piece is not None:
            return checking, piece
    return None


def _outside(desk: Desk, checking: Checking, piece: str, at: Instant) -> Iterator[list[Decimal]]:
    """The readings of a piece that are outside its limit, each by itself, by channel."""
    policy = checking.policy
    limits = {rule.piece: rule.limit for rule in policy.rules}
    own = desk.keeper.judging.pieces(at).get(piece)
    for channel in policy.channels:
        certificate = own.certificate(policy.quantity, channel) if own is not None else None
        if certificate is None:
            continue
        found = checking.found.get((piece, channel), [])
        yield [value for value in found if abs(value - certificate.value) > limits[piece]]
