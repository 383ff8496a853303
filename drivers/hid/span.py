"""A stretch of the received stream: whole records, from the first to the last. Pure."""

from __future__ import annotations

from typing import NamedTuple

from acquire.wire.transfer import Transfer, record


class Span(NamedTuple):
    """Records one behind the other; a report of several packets has several."""

    transfers: tuple[Transfer, ...]

    @property
    def start(self) -> int:
        return self.transfers[0].start

    @property
    def end(self) -> int:
        return self.transfers[-1].end

    def raw(self) -> bytes:
        """The bytes as they were received."""
        transfers = self.transfers
        if len(transfers) == 1:
            pipe, status, data, _, _ = transfers[0]
            return record(pipe, data, status)
        return b"".join(record(t.pipe, t.data, t.status) for t in transfers)
