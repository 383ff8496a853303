"""Runs that the gate refused, as rows: a sceptic wants to know what was tried. The desk's thread.

What is asked for and refused changes nothing else, so these rows are all that comes of it. Who
asked nobody knows: whoever has the token of the bench is the bench.
"""

from __future__ import annotations

from acquire.errors import Refused
from acquire.model import IncidentKind, Instant
from acquire.pipeline.ids import Ids
from acquire.store.rows import IncidentRow, Row

AGAIN_S = 60.0
"""The same refusal within that is the same try: a program may ask many times a second."""


class Refusals:
    """Rows that wait to be stored though their act gave none."""

    def __init__(self, ids: Ids) -> None:
        self._ids = ids
        self._waiting: list[Row] = []
        self._latest: dict[str, tuple[str, Instant]] = {}

    def keep(self, instrument: str, what: str, refused: Refused, at: Instant) -> None:
        """Keep that `what` was refused; `what` names trial, measure, stage and instrument."""
        got = f": {refused.got}" if refused.got else ""
        message = f"{what} was refused: {refused.reason}{got}"
        before = self._latest.get(instrument)
        if before is not None and before[0] == message and at.seconds_since(before[1]) < AGAIN_S:
            return
        self._latest[instrument] = message, at
        self._waiting.append(
            IncidentRow(
                self._ids.take(IncidentRow),
                at.utc_ns,
                instrument,
                IncidentKind.RUN_REFUSED.value,
                message,
            )
        )

    def take(self) -> list[Row]:
        """The rows that wait, once."""
        rows, self._waiting = self._waiting, []
        return rows
