"""What a framed driver needs of whatever cuts its stream. Pure."""

from __future__ import annotations

from typing import Protocol

from acquire.model import Instant
from acquire.wire import Frame


class Framer(Protocol):
    """Cuts a stream into frames, as `acquire.wire.LineFramer` does."""

    @property
    def waiting_bytes(self) -> int: ...

    @property
    def deadline(self) -> Instant | None: ...

    def feed(self, data: bytes, at: Instant) -> list[Frame]: ...

    def expire(self, now: Instant) -> list[Frame]: ...

    def lost(self) -> list[Frame]: ...
