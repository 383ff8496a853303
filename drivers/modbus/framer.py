"""What the framers of RTU and TCP share: what waits, until when, and what ends it. Pure."""

from __future__ import annotations

from abc import ABC, abstractmethod

from acquire.model import Instant
from acquire.wire import Frame, Silence
from drivers.modbus.awaited import Piece
from drivers.modbus.request import Request


class AnswerFramer(ABC):
    """Finds the awaited answer in a stream; every other byte becomes noise, in order.

    A frame that stands still for `gap_s` is over. One connection's, one thread at a time.
    """

    def __init__(self, unit: int, gap_s: float) -> None:
        self._unit = unit
        self._silence = Silence(gap_s)
        self._stalled = f"a frame that was not ended: nothing followed for {gap_s:g} s"
        self._request: Request | None = None
        # The bytes that are no whole frame yet, and where in the stream they begin.
        self._rest = b""
        self._start = 0

    @property
    def waiting_bytes(self) -> int:
        """Bytes that are no whole frame yet; bounded."""
        return len(self._rest)

    @property
    def deadline(self) -> Instant | None:
        """When the waiting bytes become noise."""
        return self._silence.end if self._rest else None

    @abstractmethod
    def sent(self, request: Request, at: Instant) -> bytes:
        """The bytes of a request on the line; from now on its answer is awaited, and no other.

        What is still waiting must have been given up before.
        """

    def feed(self, data: bytes, at: Instant) -> list[Piece]:
        """Answers and noise, in the order of the stream."""
        out: list[Piece] = [*self.expire(at)]
        if data:
            self._silence.heard(at)
            self._cut(self._rest + data if self._rest else data, out)
        return out

    def expire(self, now: Instant) -> list[Frame]:
        """Waiting bytes as noise, if nothing has followed them for too long."""
        if not self._rest or not self._silence.is_over(now):
            return []
        return self._flush(self._stalled)

    def give_up(self) -> list[Frame]:
        """The answer is awaited no longer; what is there is noise."""
        frames = self._flush("no whole answer before its time was up")
        self._request = None
        return frames

    def lost(self) -> list[Frame]:
        """What waits for its end is noise."""
        frames = self._flush("cut off when the link was lost")
        self._request = None
        return frames

    @abstractmethod
    def _cut(self, todo: bytes, out: list[Piece]) -> None:
        """Put into `out` what these bytes complete, and keep the rest."""

    @abstractmethod
    def _flush(self, why: str) -> list[Frame]:
        """All that waits, as noise."""
