"""Limits that hold nothing and certificates that cannot well be true, each once. Any thread."""

from __future__ import annotations

from acquire.report.record.record import TrialRecord
from acquire.report.words.wording import numbered, reason_alone


def doubt_lines(record: TrialRecord) -> tuple[str, ...]:
    """What of limits and certificates is to be doubted, each once, with the checks it is of."""
    found: dict[str, list[int]] = {}
    for check in record.checks:
        for text in (*check.doubts, *check.withdrawn):
            found.setdefault(text, []).append(check.id)
    return tuple(
        f"{_begun(reason_alone(text))} (check{'s' * (len(ids) > 1)} {numbered(ids)})."
        for text, ids in found.items()
    )


def _begun(text: str) -> str:
    return text and f"{text[0].upper()}{text[1:].removesuffix('.')}"
