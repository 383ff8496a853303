"""The certificates that a check of an instrument relies on, and whether they are valid. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime, time, timedelta

from acquire.model import Certificate, CheckPolicy, Piece


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
    """Reason and finding where one is not valid on a day (UTC); both empty where all are."""
    for certificate in certificates:
        whose = f"the certificate of {certificate.piece}"
        if today > certificate.due:
            return "certificate ran out", f"{whose}, past its due date {certificate.due}"
        if today < certificate.issued:
            return (
                "certificate not valid yet",
                f"{whose}, issued only on {certificate.issued}, on {today} (UTC)",
            )
    return "", ""
