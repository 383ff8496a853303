"""What one instrument's thread hands to the recorder in one piece."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from acquire.model.fact import Fact
from acquire.model.happening import Gap, Incident
from acquire.model.instant import Instant


class Chunk(NamedTuple):
    """Raw bytes of a link as they passed, with their offset in the stream of that direction."""

    offset: int
    data: bytes
    at: Instant


class Connected(NamedTuple):
    """The link was opened. `where` is the port or address, `adapter` the adapter's own serial."""

    at: Instant
    where: str
    adapter: str


CLOSED_BY_DAEMON = "closed by the daemon"
"""The message of a link that nobody unplugged: the daemon ends."""


class Disconnected(NamedTuple):
    """The link is gone or was closed, and why."""

    at: Instant
    message: str


@dataclass(frozen=True, slots=True)
class Batch:
    """One stretch of an instrument's life, in the order in which it happened.

    `connection` counts the instrument's connections from 1 within this daemon. Within a batch
    the order is: connected, gap, sent, received, facts, incidents, disconnected.
    """

    instrument: str
    connection: int
    connected: Connected | None = None
    sent: Chunk | None = None
    received: Chunk | None = None
    facts: tuple[Fact, ...] = ()
    gap: Gap | None = None
    incidents: tuple[Incident, ...] = ()
    disconnected: Disconnected | None = None
