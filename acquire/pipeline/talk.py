"""What passes on one connection of an instrument, and the batches it becomes.

Between the session, which decides when to speak and listen, and the driver, which is somebody
else's code: every call of it is caught, and whatever it gives is looked at. One thread.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace

from acquire.driverapi import Driver
from acquire.driverapi.guard import Guard
from acquire.errors import LinkLost
from acquire.link import Link
from acquire.model import Batch, Chunk, Disconnected, Fact, Incident, Instant, Notice, NoticeKind
from acquire.pipeline.bulk import condensed
from acquire.pipeline.calling import Caller, DriverFailed
from acquire.pipeline.failing import failed_on
from acquire.pipeline.outbox import Outbox

PORTION = 512
"""So many facts are handed over at once."""
MOST_READS = 64
"""So often a line that broke is read once more."""


class Talk:
    """One connection. Its calls raise `LinkLost` and `DriverFailed`."""

    def __init__(self, bare: Batch, link: Link, driver: Driver, guard: Guard, call: Caller) -> None:
        self._bare = bare
        self._link = link
        self._driver = driver
        self._guard = guard
        self._call = call
        self._sent_bytes = 0
        self._received_bytes = 0
        self._told: Chunk | None = None
        self._has_failed = False
        self._misses = False

    @property
    def has_heard(self) -> bool:
        """Whether a byte has come."""
        return self._received_bytes > 0

    def misses(self) -> bool:
        """Whether something did not come that should have, by what the driver infers; once each."""
        missing, self._misses = self._misses, False
        return missing

    def opening(self, at: Instant, outbox: Outbox) -> None:
        """Send the driver's first words."""
        self._send(self._bytes(lambda: self._driver.opening(at), "opening"), at, outbox)

    def take(self, at: Instant, outbox: Outbox) -> None:
        """Send what makes the device take a reading."""
        self._guard.tell(at)
        self._send(self._bytes(lambda: self._driver.take(at), "take"), at, outbox)

    def due(self, now: Instant, outbox: Outbox) -> Instant | None:
        """Send what the driver wants to send by itself; when it wants to be asked again."""
        self._guard.tell(now)
        due = self._call("due", lambda: self._driver.due(now))
        send = self._bytes(lambda: due.send, "due")
        again = self._call("due", lambda: self._guard.again(due.again))
        self._send(send, now, outbox)
        return again

    def hear(self, data: bytes, at: Instant, outbox: Outbox) -> None:
        """Let the driver make facts of what came, also of nothing: time alone makes noise."""
        chunk = Chunk(self._received_bytes, data, at) if data else None
        self._received_bytes += len(data)
        try:
            facts = self._call("feed", lambda: self._fed(data, at), data)
        except DriverFailed:
            # Nothing is made of these bytes, and nothing of them is lost.
            outbox.give(self._batch(chunk, self.failed(at, data)))
            raise
        if chunk is None and not facts and self._told is None:
            return
        self._misses = any(map(_is_missing, facts))
        if chunk is not None:
            facts = condensed(facts, chunk)
        # What one chunk amounts to goes in by portions, so that nobody else waits for all of it.
        outbox.give(self._batch(chunk, facts[:PORTION]))
        for first in range(PORTION, len(facts), PORTION):
            outbox.give(self._batch(None, facts[first : first + PORTION]))

    def lost(self, at: Instant) -> list[Fact]:
        """What the driver makes of the bytes that wait for more."""
        return self._call("lost", lambda: self._guard.facts(self._driver.lost(at), b"", at))

    def failed(self, at: Instant, data: bytes = b"") -> list[Fact]:
        """What the driver failed on, once. `data` is what it was fed as it failed."""
        if self._has_failed:
            return []
        self._has_failed = True
        return failed_on(self._guard, self._received_bytes, at, data)

    def last(
        self, facts: list[Fact], incidents: tuple[Incident, ...], disconnected: Disconnected
    ) -> Batch:
        """The last batch of the connection."""
        return replace(self._batch(None, facts), incidents=incidents, disconnected=disconnected)

    def _fed(self, data: bytes, at: Instant) -> list[Fact]:
        return self._guard.facts(self._driver.feed(data, at), data, at)

    def _bytes(self, call: Callable[[], bytes], name: str) -> bytes:
        return self._call(name, lambda: self._guard.bytes(call(), name))

    def _send(self, data: bytes, at: Instant, outbox: Outbox) -> None:
        if not data:
            return
        if self._told is not None:
            outbox.give(self._batch(None, []))
        try:
            self._link.write(data)
        except LinkLost:
            self._hear_rest(at, outbox)
            raise
        # Told with the answer, so that an idle meter that is asked costs one commit and not two.
        self._told = Chunk(self._sent_bytes, data, at)
        self._sent_bytes += len(data)

    def _hear_rest(self, at: Instant, outbox: Outbox) -> None:
        """What had come before a line took no more: nobody reads it later."""
        with suppress(LinkLost):
            # Bounded, for a line that takes nothing may send on and on.
            for _ in range(MOST_READS):
                if not (data := self._link.read(0.0)):
                    return
                self.hear(data, at, outbox)

    def _batch(self, received: Chunk | None, facts: list[Fact]) -> Batch:
        told, self._told = self._told, None
        bare = self._bare
        return Batch(bare.instrument, bare.connection, None, told, received, tuple(facts))


def _is_missing(fact: Fact) -> bool:
    """Whether a fact is no line of the meter, but follows from a count that leaps or a silence."""
    return (
        type(fact) is Notice
        and not fact.raw
        and fact.kind in (NoticeKind.POWER_UP, NoticeKind.TROUBLE)
    )
