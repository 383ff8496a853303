"""Cutting a stream of bytes into lines, with bounded memory and the place of every byte.

What a line does to its reader, and what comes of it here (each is a test of the same name):

- *split*: a line comes in many chunks, its terminator too -> one frame;
- *glued*: many lines come in one chunk, with the head of another -> a frame each, the head waits;
- *empty*: terminators without anything between -> nothing, or with `refuse_empty` each a faulty
  frame: a device that never sends an empty line sends none beside a good one either;
- *endless*: a line longer than the limit -> faulty frames of `limit_bytes` each and the remainder
  up to the next terminator, which starts afresh; where it is cut depends on the bytes alone and
  not on the chunks;
- *stalled*: a line that is not ended in time -> one faulty frame of what is there;
- *resumed*: the tail of a stalled line -> a line of its own, or with `skip_tail` faulty up to the
  next terminator. A profile without checksum needs that: the tail of ``12 60 88,3`` is
  ``2 60 88,3``, a good line with a wrong number in it. That is over after ten times the limit: a
  stray byte behind a line spoils none that comes long after it;
- *torn*: the link is lost in mid-line -> one faulty frame of what is there.

Every byte that is no terminator of a line is in exactly one frame, in the order of the stream.
Never looks into a line, never raises on content. One thread at a time.
"""

from __future__ import annotations

from typing import NamedTuple

from acquire.model import Instant

RESUMES_WITHIN = 10
"""Times the time limit: a line that stalled longer does not go on (common practice, no source)."""


class Frame(NamedTuple):
    """A line without its terminator. `start` is its offset in the stream.

    `fault` is empty for a whole line, else it says in plain words why these bytes are none.
    """

    start: int
    data: bytes
    fault: str


class LineFramer:
    """Lines of one stream from its first byte on."""

    def __init__(
        self, terminator: bytes, limit_bytes: int, timeout_s: float, *, skip_tail: bool = False,
        refuse_empty: bool = False,
    ) -> None:  # fmt: skip
        if not terminator or limit_bytes < 1 or timeout_s <= 0:
            raise ValueError("a framer needs a terminator, a limit and a time")
        self._terminator = terminator
        self._limit_bytes = limit_bytes
        self._timeout_ns = round(timeout_s * 1e9)
        self._skip_tail = skip_tail
        self._refuse_empty = refuse_empty
        self._rest = b""
        self._start = 0
        self._since: Instant | None = None
        self._fault = ""
        self._until_ns: int | None = None
        self._too_long = f"longer than {limit_bytes} bytes"
        self._too_slow = f"not ended within {timeout_s:g} s"
        self._tail = f"the tail of a line that was not ended within {timeout_s:g} s"

    @property
    def waiting_bytes(self) -> int:
        """Bytes of a line that is not ended yet: after any call less than limit + terminator."""
        return len(self._rest)

    @property
    def deadline(self) -> Instant | None:
        """When the bytes that are waiting become a faulty frame; None if none are."""
        since = self._since
        if since is None:
            return None
        return Instant(since.utc_ns + self._timeout_ns, since.mono_ns + self._timeout_ns)

    def feed(self, data: bytes, at: Instant) -> list[Frame]:
        """The frames that these bytes complete. `at` is when they were received."""
        # The time limit holds whether or not somebody asked `expire` in between: a tape that is
        # replayed without those calls gives the same frames.
        frames = self.expire(at) if self._since is not None else []
        if self._until_ns is not None and data:
            # So long after it no line goes on: what comes is another one.
            if at.mono_ns >= self._until_ns and self._fault == self._tail:
                self._fault = ""
            self._until_ns = None
        lines = (self._rest + data if self._rest else data).split(self._terminator)
        rest = lines.pop()
        start = self._start
        limit = self._limit_bytes
        step = len(self._terminator)
        for line in lines:
            if self._fault or len(line) > limit:
                self._cut(line, start, frames)
                self._fault = ""
            elif line:
                frames.append(Frame(start, line, ""))
            elif self._refuse_empty:
                frames.append(Frame(start, self._terminator, "an empty line"))
            start += len(line) + step
        # A terminator may have begun within the last bytes: they wait beyond the limit.
        spare = len(rest) - limit - step
        if spare >= 0:
            cut = (spare // limit + 1) * limit
            self._fault = self._fault or self._too_long
            self._cut(rest[:cut], start, frames)
            start += cut
            rest = rest[cut:]
        if not rest:
            self._since = None
        elif lines or spare >= 0 or self._since is None:
            self._since = at
        self._rest = rest
        self._start = start
        return frames

    def expire(self, now: Instant) -> list[Frame]:
        """The waiting bytes as a faulty frame, if their time is up."""
        since = self._since
        if since is None or now.mono_ns - since.mono_ns < self._timeout_ns:
            return []
        frames = self._flush(self._too_slow)
        self._fault = self._tail if self._skip_tail else ""
        self._until_ns = since.mono_ns + RESUMES_WITHIN * self._timeout_ns
        return frames

    def lost(self) -> list[Frame]:
        """The waiting bytes as a faulty frame: the link is gone."""
        frames = self._flush("cut off when the link was lost")
        self._fault = ""
        return frames

    def _flush(self, why: str) -> list[Frame]:
        rest, start = self._rest, self._start
        self._start += len(rest)
        self._rest = b""
        self._since = None
        return [Frame(start, rest, why)] if rest else []

    def _cut(self, line: bytes, start: int, frames: list[Frame]) -> None:
        """Faulty frames of at most the limit each."""
        fault = self._fault or self._too_long
        limit = self._limit_bytes
        frames += [Frame(start + i, line[i : i + limit], fault) for i in range(0, len(line), limit)]
