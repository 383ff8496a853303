"""What passes on one connection of an instrument, and the batches it becomes.

Between the session, which decides when to speak and listen, and the driver, which is somebody
else's code: every call of it is caught, and whatever it gives is looked at. One thread.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TypeVar

from acquire.driverapi import Driver
from acquire.driverapi.fit import Guard
from acquire.link import Link
from acquire.model import Batch, Chunk, Disconnected, Fact, Incident, Instant, Noise
from acquire.pipeline.outbox import Outbox

T = TypeVar("T")


class DriverFailed(Exception):
    """A driver raised, or gave what no driver may give. `data` is what it was fed."""

    def __init__(self, error: Exception, data: bytes = b"") -> None:
        super().__init__(str(error))
        self.error = error
        self.data = data


class Talk:
    """One connection. Its calls raise `LinkLost` and `DriverFailed`."""

    def __init__(
        self, instrument: str, connection: int, link: Link, driver: Driver, driver_name: str
    ) -> None:
        self._bare = Batch(instrument, connection)
        self._link = link
        self._driver = driver
        self._guard = Guard(driver_name)
        self._sent_bytes = 0
        self._received_bytes = 0
        self._told: Chunk | None = None

    def opening(self, at: Instant, outbox: Outbox) -> None:
        """Send the driver's first words."""
        self._send(self._bytes(lambda: self._driver.opening(at), "opening"), at, outbox)

    def take(self, at: Instant, outbox: Outbox) -> None:
        """Send what makes the device take a reading."""
        self._send(self._bytes(lambda: self._driver.take(at), "take"), at, outbox)

    def due(self, now: Instant, outbox: Outbox) -> Instant | None:
        """Send what the driver wants to send by itself; when it wants to be asked again."""
        due = called(lambda: self._driver.due(now))
        send = self._bytes(lambda: due.send, "due")
        again = called(lambda: due.again)
        if again is not None and not isinstance(again, Instant):
            raise DriverFailed(TypeError(f"due wants to be asked again at {again!r}"))
        self._send(send, now, outbox)
        return again

    def hear(self, data: bytes, at: Instant, outbox: Outbox) -> None:
        """Let the driver make facts of what came, also of nothing: time alone makes noise."""
        chunk = Chunk(self._received_bytes, data, at) if data else None
        self._received_bytes += len(data)
        try:
            facts = self._guard.facts(self._driver.feed(data, at), len(data))
        except Exception as error:
            # Nothing is made of these bytes, and nothing of them is lost.
            end = self._received_bytes
            noise = Noise(at, data, end - len(data), end, "the driver failed on these bytes")
            outbox.give(self._batch(chunk, [noise] if data else []))
            raise DriverFailed(error, data) from error
        if chunk is not None or facts or self._told is not None:
            outbox.give(self._batch(chunk, facts))

    def lost(self, at: Instant) -> list[Fact]:
        """What the driver makes of the bytes that wait for more."""
        return called(lambda: self._guard.facts(self._driver.lost(at), 0))

    def last(
        self, facts: list[Fact], incidents: tuple[Incident, ...], disconnected: Disconnected
    ) -> Batch:
        """The last batch of the connection."""
        return replace(self._batch(None, facts), incidents=incidents, disconnected=disconnected)

    def _bytes(self, call: Callable[[], bytes], name: str) -> bytes:
        return called(lambda: self._guard.bytes(call(), name))

    def _send(self, data: bytes, at: Instant, outbox: Outbox) -> None:
        if not data:
            return
        if self._told is not None:
            outbox.give(self._batch(None, []))
        self._link.write(data)
        # Told with the answer, so that an idle meter that is asked costs one commit and not two.
        self._told = Chunk(self._sent_bytes, data, at)
        self._sent_bytes += len(data)

    def _batch(self, received: Chunk | None, facts: list[Fact]) -> Batch:
        told, self._told = self._told, None
        bare = self._bare
        return Batch(bare.instrument, bare.connection, None, told, received, tuple(facts))


def called(call: Callable[[], T]) -> T:
    """The result of a call of a driver. Raises `DriverFailed` whatever it raises."""
    try:
        return call()
    except Exception as error:
        raise DriverFailed(error) from error
