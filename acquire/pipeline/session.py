"""The session of one instrument: its own thread, from opening the link to handing over batches.

It opens the link by the device's identity, lets the driver say what to send and what the bytes
mean, stamps every chunk as it comes, and hands everything to the recorder. A lost link is opened
again with growing pauses. A driver that fails is named, its bytes are kept, and the other
instruments go on.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import NamedTuple

from acquire.clock import Clock
from acquire.driverapi import Driver
from acquire.errors import LinkLost, LinkUnavailable
from acquire.link import Link, Opener
from acquire.model import (
    Batch,
    Chunk,
    Connected,
    Disconnected,
    Gap,
    Incident,
    IncidentKind,
    Instant,
)

FIRST_PAUSE_S = 0.2
LONGEST_PAUSE_S = 5.0
READ_WAIT_S = 0.5
SINK_DEADLINE_S = 2.0

Sink = Callable[[Batch, float], bool]


class SessionState(NamedTuple):
    """A snapshot: whether the instrument is connected, since when, and the last message."""

    connected: bool
    since: Instant
    message: str


class Session:
    """Body of one instrument's thread. `take` and `stop` may be called from any thread."""

    def __init__(
        self,
        instrument: str,
        opener: Opener,
        make_driver: Callable[[], Driver],
        sink: Sink,
        clock: Clock,
        pause: Callable[[float], object] | None = None,
    ) -> None:
        self._instrument = instrument
        self._opener = opener
        self._make_driver = make_driver
        self._sink = sink
        self._clock = clock
        self._stopping = threading.Event()
        self._pause = pause or self._stopping.wait
        self._take_asked = threading.Event()
        self._link: Link | None = None
        self._connection = 0
        self._lost_since: Instant | None = None
        self._lost_bytes = 0
        self._last_trouble = ""
        self.state = SessionState(False, clock.now(), "not connected yet")

    # -- any thread ------------------------------------------------------------------------------

    def take(self) -> bool:
        """Ask the device for a reading; False if it is not connected or only its button can."""
        link = self._link
        if link is None or not self._can_take:
            return False
        self._take_asked.set()
        link.cancel()
        return True

    def stop(self) -> None:
        """Let the thread end."""
        self._stopping.set()
        link = self._link
        if link is not None:
            link.cancel()

    # -- the session's thread ----------------------------------------------------------------------

    _can_take = False

    def run(self) -> None:
        """Until stopped: open, serve, open again."""
        pause_s = FIRST_PAUSE_S
        while not self._stopping.is_set():
            try:
                link = self._opener.open()
            except LinkUnavailable as error:
                self._trouble(IncidentKind.LINK_UNAVAILABLE, str(error))
                self._pause(pause_s)
                pause_s = min(2 * pause_s, LONGEST_PAUSE_S)
                continue
            self._last_trouble = ""
            served = self._serve(link)
            if served:
                pause_s = FIRST_PAUSE_S
            if not self._stopping.is_set():
                self._pause(pause_s)
                pause_s = min(2 * pause_s, LONGEST_PAUSE_S)

    def _serve(self, link: Link) -> bool:
        """One connection's life; True if bytes came and the driver understood them."""
        self._connection += 1
        self._link = link
        served = False
        driver = self._make_driver()
        now = self._clock.now()
        self._can_take = bool(driver.take(now))
        self.state = SessionState(True, now, f"connected as {link.where}")
        self._hand(
            Batch(
                self._instrument,
                self._connection,
                connected=Connected(now, link.where, link.adapter),
            )
        )
        sent = received = 0
        message, kind = "closed by the daemon", None
        try:
            opening = driver.opening(now)
            sent += self._send(link, opening, sent)
            while not self._stopping.is_set():
                now = self._clock.now()
                due = driver.due(now)
                sent += self._send(link, due.send, sent)
                if self._take_asked.is_set():
                    self._take_asked.clear()
                    sent += self._send(link, driver.take(now), sent)
                wait_s = READ_WAIT_S
                if due.again is not None:
                    wait_s = min(wait_s, max(0.001, due.again.seconds_since(now)))
                data = link.read(wait_s)
                if not data:
                    continue
                at = self._clock.now()
                chunk = Chunk(received, data, at)
                received += len(data)
                try:
                    facts = tuple(driver.feed(data, at))
                except Exception as error:
                    self._hand(Batch(self._instrument, self._connection, received=chunk))
                    kind, message = IncidentKind.DRIVER_FAILED, self._blame(driver, data, error)
                    break
                served = True
                self._hand(Batch(self._instrument, self._connection, received=chunk, facts=facts))
        except LinkLost as error:
            kind, message = IncidentKind.LINK_LOST, str(error)
        except Exception as error:
            kind, message = IncidentKind.DRIVER_FAILED, self._blame(driver, b"", error)
        self._part(link, driver, kind, message)
        return served and kind is not IncidentKind.DRIVER_FAILED

    def _part(self, link: Link, driver: Driver, kind: IncidentKind | None, message: str) -> None:
        """Close the link, flush the driver, and say why."""
        at = self._clock.now()
        self._link = None
        self._can_take = False
        link.close()
        try:
            facts = tuple(driver.lost(at))
        except Exception as error:
            facts = ()
            kind, message = IncidentKind.DRIVER_FAILED, self._blame(driver, b"", error)
        incidents = (
            ()
            if kind is None
            else (Incident(self._instrument, kind, at, f"{self._instrument}: {message}"),)
        )
        self.state = SessionState(False, at, message)
        self._hand(
            Batch(
                self._instrument,
                self._connection,
                facts=facts,
                incidents=incidents,
                disconnected=Disconnected(at, message),
            )
        )

    def _send(self, link: Link, data: bytes, offset: int) -> int:
        if not data:
            return 0
        link.write(data)
        at = self._clock.now()
        self._hand(Batch(self._instrument, self._connection, sent=Chunk(offset, data, at)))
        return len(data)

    def _hand(self, batch: Batch) -> None:
        """Hand a batch over; what the recorder cannot take in time becomes a gap, told later."""
        if self._lost_since is not None:
            gap = Gap(self._instrument, self._lost_since, self._clock.now(), self._lost_bytes)
            told = Batch(self._instrument, self._connection, gap=gap)
            if not self._sink(told, SINK_DEADLINE_S):
                self._lose(batch)
                return
            self._lost_since, self._lost_bytes = None, 0
        if not self._sink(batch, SINK_DEADLINE_S):
            self._lose(batch)

    def _lose(self, batch: Batch) -> None:
        if self._lost_since is None:
            self._lost_since = batch.received.at if batch.received else self._clock.now()
        if batch.received is not None:
            self._lost_bytes += len(batch.received.data)

    def _trouble(self, kind: IncidentKind, message: str) -> None:
        """Tell of a trouble once, not at every attempt."""
        at = self._clock.now()
        self.state = SessionState(False, at, message)
        if message == self._last_trouble:
            return
        self._last_trouble = message
        told = Incident(self._instrument, kind, at, f"{self._instrument}: {message}")
        self._hand(Batch(self._instrument, self._connection, incidents=(told,)))

    def _blame(self, driver: Driver, data: bytes, error: Exception) -> str:
        name = type(driver).__module__.removesuffix(".driver")
        on = f" on the bytes {data[:80]!r}" if data else ""
        return (
            f"the driver {name} failed{on}: {error!r}. "
            "Next: report it with these bytes; the line is opened again, other instruments go on"
        )
