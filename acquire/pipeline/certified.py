"""The certificates that a check of an instrument relies on, and whether they are valid. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import UTC, date, datetime, time, timedelta

from acquire.model import Certificate, CheckPolicy, Piece

CertificateIds = Mapping[tuple[str, str, str], int]
"""Numbers of certificates in the store, by piece, quantity and channel."""


def numbers_of(
    pieces: Iterable[Piece], registered: Mapping[tuple[str, str, str, str], int]
) -> CertificateIds:
    """Those of the certificates in use, out of all, which go by their day of issue, too."""
    found = {}
    for c in (c for piece in pieces for c in piece.current):
        key = (c.piece, c.quantity.value, c.channel)
        number = registered.get((*key, c.issued.isoformat()))
        if number is not None:
            found[key] = number
    return found


def certificates_of(policy: CheckPolicy, pieces: Iterable[Piece]) -> list[Certificate]:
    """Those of the policy's pieces at its channels, as far as there are any."""
    known = {p.id: p for p in pieces}
    return [
        certificate
        for rule in policy.rules
        if rule.piece in known
        for channel in policy.channels
        if (certificate := known[rule.piece].certificate(policy.quantity, channel))
    ]


def end_ns(certificates: Iterable[Certificate]) -> int | None:
    """The end (UTC) of the first due day; None without a certificate."""
    due = [certificate.due for certificate in certificates]
    if not due:
        return None
    end = datetime.combine(min(due) + timedelta(days=1), time(), UTC)
    return int(end.timestamp()) * 1_000_000_000


def fault_on(certificates: Iterable[Certificate], today: date) -> tuple[str, str]:
    """Reason of the first that is not valid on a day (UTC), and what all of those are.

    Both are empty where all are valid.
    """
    found: list[tuple[str, str]] = []
    for certificate in certificates:
        whose = f"the certificate of {certificate.piece}"
        if today > certificate.due:
            found.append(("certificate ran out", f"{whose}, past its due date {certificate.due}"))
        elif today < certificate.issued:
            what = f"{whose}, issued only on {certificate.issued}, on {today} (UTC)"
            found.append(("certificate not valid yet", what))
    return (found[0][0] if found else ""), "; ".join(dict.fromkeys(what for _, what in found))
