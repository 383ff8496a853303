"""What a check that did not fail found outside the limits of an earlier one, in words.

Readings are held to the certified values and limits of the check that they were taken under,
whatever policy and certificates say since; so a check that passes by its own may make them suspect.
Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from acquire.analysis.figures import signed
from acquire.model import at_channel
from acquire.report.record.checkrecord import CheckRecord, PieceRecord
from acquire.report.words.sentvalue import plain
from acquire.units import symbol


def outside_then(check: CheckRecord, openings: Iterable[CheckRecord]) -> Iterator[str]:
    """A sentence for each piece that lies outside of what it was held to under one of these."""
    for opening in openings:
        for then in opening.pieces:
            now = _of(check, then)
            if now is None or not then.is_judged:
                continue
            off = now.mean - then.certified
            if abs(off) - now.expanded_uncertainty <= then.limit:
                continue
            unit = symbol(then.unit)
            doubt = float(now.expanded_uncertainty)
            yield (
                f"Check {opening.id} held {then.piece}{at_channel(then.channel)} to "
                f"{plain(then.certified)} {unit} and a limit of {plain(then.limit)} {unit}; here "
                f"it is off that by {signed(float(off), doubt)} {unit}."
            )


def _of(check: CheckRecord, piece: PieceRecord) -> PieceRecord | None:
    """The same piece as this check judged it then; None where it has no figures."""
    key = (piece.piece, piece.channel)
    return next((p for p in check.pieces if (p.piece, p.channel) == key and p.is_judged), None)
