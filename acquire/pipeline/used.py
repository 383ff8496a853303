"""What a judgement was made of, as text in its row, so that it can be made again. Pure.

Beside the policy (in the row of the check's beginning) and the values (in the rows of the
readings): which readings counted or were void, which certificates they were held against, the day
on which certificates had to be valid, and which edition of the rules judged.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from acquire.calibration.edition import EDITION
from acquire.model import Certificate, CheckPolicy, Piece, PieceKind, Quantity


class UsedReading(NamedTuple):
    """A reading of a check; a void one says what was found, and counts for nothing."""

    reading_id: int
    piece: str
    channel: str
    is_void: bool


class UsedCertificate(NamedTuple):
    """A certificate as it was used; `row_id` is its row, None where the store has none of it.

    Figures as text: 91.4 and 91.40 are one value, and a judgement says the one or the other.
    """

    piece: str
    kind: str
    channel: str
    row_id: int | None
    value: str
    unit: str
    expanded_uncertainty: str
    coverage_factor: str
    issued: str
    due: str


class Used(NamedTuple):
    """All of it."""

    edition: int
    on: date
    readings: tuple[UsedReading, ...]
    certificates: tuple[UsedCertificate, ...]
    is_broken_off: bool

    def text(self) -> str:
        """As the row has it."""
        return json.dumps(
            {
                "edition": self.edition,
                "on": self.on.isoformat(),
                "readings": [[*one] for one in self.readings],
                "certificates": [[*one] for one in self.certificates],
                "broken_off": self.is_broken_off,
            },
            separators=(",", ":"),
        )


def read_used(text: str) -> Used:
    """What a row says. Raises ValueError, KeyError or TypeError where it is none of ours."""
    entry = json.loads(text)
    return Used(
        int(entry["edition"]),
        date.fromisoformat(entry["on"]),
        tuple(UsedReading(int(i), str(p), str(c), bool(v)) for i, p, c, v in entry["readings"]),
        tuple(UsedCertificate(*one) for one in entry["certificates"]),
        bool(entry["broken_off"]),
    )


def used(
    policy: CheckPolicy,
    on: date,
    readings: Sequence[UsedReading],
    pieces: Mapping[str, Piece],
    certificate_ids: Mapping[tuple[str, str, str], int],
    *,
    is_broken_off: bool,
) -> Used:
    """What a check by this policy is judged from; `certificate_ids` by piece, quantity, channel."""
    relied_on = tuple(
        UsedCertificate(
            piece.id,
            piece.kind.value,
            channel,
            certificate_ids.get((piece.id, policy.quantity.value, channel)),
            str(found.value),
            found.unit,
            str(found.expanded_uncertainty),
            str(found.coverage_factor),
            found.issued.isoformat(),
            found.due.isoformat(),
        )
        for rule in policy.rules
        if (piece := pieces.get(rule.piece)) is not None
        for channel in policy.channels
        if (found := piece.certificate(policy.quantity, channel)) is not None
    )
    return Used(EDITION, on, tuple(readings), relied_on, is_broken_off)


def pieces_used(made_of: Used, quantity: Quantity) -> dict[str, Piece]:
    """The pieces with the certificates that a judgement used."""
    found: dict[str, list[UsedCertificate]] = {}
    for one in made_of.certificates:
        found.setdefault(one.piece, []).append(one)
    return {
        piece: Piece(
            piece,
            PieceKind(rows[0].kind),
            tuple(
                Certificate(
                    piece,
                    quantity,
                    row.channel,
                    Decimal(row.value),
                    row.unit,
                    Decimal(row.expanded_uncertainty),
                    Decimal(row.coverage_factor),
                    date.fromisoformat(row.issued),
                    date.fromisoformat(row.due),
                    "",
                )
                for row in rows
            ),
        )
        for piece, rows in found.items()
    }
