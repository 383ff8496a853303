"""A check that the end of the daemon broke off, made anew from what the store has of it. Pure."""

from __future__ import annotations

from collections.abc import Iterable

from acquire.model import Piece, Quantity, from_utc_ns, read_policy_text
from acquire.pipeline.checking import Checking
from acquire.pipeline.used import UsedReading
from acquire.store.found import UnjudgedCheck
from acquire.store.register_rows import CertificateRow
from acquire.store.registered import certificate_of, figures_of, piece_of


def unfinished(found: UnjudgedCheck) -> Checking:
    """The check with its readings, by the policy it followed."""
    policy = read_policy_text(found.policy_json)
    checking = Checking(found.id, found.instrument, found.serial, policy)
    for reading in found.readings:
        one = UsedReading(reading.id, reading.piece, reading.channel, reading.is_void)
        checking.recall(one, reading.value)
    return checking


def then(
    certificates: Iterable[CertificateRow], begun_utc_ns: int
) -> tuple[dict[str, Piece], dict[tuple[str, str, str], int]]:
    """The pieces with the certificates that were in force when a check began, and their numbers.

    `certificates` are those of the store as the daemon starts that finds the check: all were there
    when it began, whatever clocks told, since they are recorded by starts alone, and each judges
    what it finds. What the bench file says now may have been written to make a bad check good.
    """
    latest = {figures_of(row): row for row in certificates}
    day = from_utc_ns(begun_utc_ns).date()
    found: dict[str, list[CertificateRow]] = {}
    # Of two of one day the one that was recorded last, since a piece takes the first of them.
    for row in sorted(latest.values(), key=lambda row: row.id, reverse=True):
        found.setdefault(row.piece, []).append(row)
    pieces = {
        piece: piece_of(None, piece, rows[0].piece_kind, map(certificate_of, rows)).on(day)
        for piece, rows in found.items()
    }
    numbers = {}
    for row in latest.values():
        in_use = pieces[row.piece].certificate(Quantity(row.quantity), row.channel)
        if in_use == certificate_of(row):
            numbers[row.piece, row.quantity, row.channel] = row.id
    return pieces, numbers
