"""A check that the end of the daemon broke off, made anew from what the store has of it. Pure."""

from __future__ import annotations

import json
from collections.abc import Iterable
from decimal import Decimal

from acquire.model import CheckPolicy, Piece, PieceRule, Quantity
from acquire.pipeline.checking import Checking
from acquire.store.found import UnjudgedCheck
from acquire.store.registered import certificate_of, piece_of
from acquire.store.rows import CertificateRow


def unfinished(found: UnjudgedCheck) -> Checking:
    """The check with its readings, by the policy it followed."""
    checking = Checking(found.id, found.instrument, found.serial, _policy(found.policy_json))
    for reading in found.readings:
        values = checking.voided if reading.is_void else checking.readings
        values.setdefault((reading.piece, reading.channel), []).append(reading.value)
    return checking


def pieces_of_then(certificates: Iterable[CertificateRow], begun_utc_ns: int) -> dict[str, Piece]:
    """The pieces with the certificates that were in force when a check began.

    What the bench file says now may have been written to make a bad check good.
    """
    latest: dict[tuple[str, str, str, str], CertificateRow] = {}
    for row in certificates:
        if row.at_utc_ns <= begun_utc_ns:
            latest[row.piece, row.quantity, row.channel, row.issued] = row
    found: dict[str, list[CertificateRow]] = {}
    for row in latest.values():
        found.setdefault(row.piece, []).append(row)
    return {
        piece: piece_of(None, piece, rows[0].piece_kind, map(certificate_of, rows))
        for piece, rows in found.items()
    }


def _policy(text: str) -> CheckPolicy:
    entry = json.loads(text)
    # Before channels had their name a policy had geometries.
    channels = entry.get("channels") or entry.get("geometries") or [""]
    return CheckPolicy(
        id=entry["id"],
        quantity=Quantity(entry["quantity"]),
        channels=tuple(channels),
        unit=entry["unit"],
        resolution=Decimal(entry["resolution"]),
        rules=tuple(
            PieceRule(
                rule["piece"],
                rule["readings"],
                Decimal(rule["limit"]),
                Decimal(rule["spread_limit"]),
            )
            for rule in entry["rules"]
        ),
        valid_for_s=entry["valid_for_s"],
        clock_jump_s=entry["clock_jump_s"],
    )
