"""What follows on a record that is none: bytes of a damaged tape, told in pieces. Pure."""

from __future__ import annotations

from acquire.model import Instant, Noise

PIECE_BYTES = 4096


class Unreadable:
    """Cuts the rest of a stream by its bytes alone, whatever the chunks."""

    def __init__(self) -> None:
        self._rest = b""
        self._start = 0
        self._why = ""

    def feed(self, start: int, data: bytes, at: Instant, why: str) -> list[Noise]:
        """Whole pieces as noise."""
        if not self._rest:
            self._start = start
        self._why = why
        self._rest += data
        found: list[Noise] = []
        while len(self._rest) >= PIECE_BYTES:
            found.append(self._piece(PIECE_BYTES, at))
        return found

    def lost(self, at: Instant) -> list[Noise]:
        """What is left, as noise."""
        return [self._piece(len(self._rest), at)] if self._rest else []

    def _piece(self, length: int, at: Instant) -> Noise:
        raw, start = self._rest[:length], self._start
        self._rest = self._rest[length:]
        self._start += length
        return Noise(at, raw, start, start + length, self._why)
